/**
 * What the phone works out by itself while the server cannot be reached: superheat, subcooling, headroom and the feed
 * held so far. The same equations as analysis/feed.py and analysis/guard.py; everything made here is provisional, the
 * verdict stays with the server.
 */

import type { Curves } from "./curves";

const F = 5 / 9;
const PSI = 6894.757293168361;
const GRAVITY = 9.80665;
const INCH = 0.0254;
/** Roughness of drawn copper tube [m]. */
const DRAWN_TUBE = 1.5e-6;
/** Share of the effect of superheat on suction density that reaches the flow. */
const SUPERHEAT_SHARE = 0.75;
/** Load's share in the uncertainty of the evaporating temperature (criterion load_uncertainty). */
const LOAD_UNCERTAINTY = 0.35 * F;

/** Four readings, SI, absolute. */
export interface State {
  suction: number;
  head: number;
  suctionLine: number;
  liquidLine: number;
}

export interface Known {
  compressorType?: string | null;
  packaged?: boolean | null;
  lineLength?: number | null;
  lift?: number | null;
  liquidLineDiameter?: number | null;
  capacity?: number | null;
  needles: boolean;
}

export interface FeedHeld {
  value: number;
  low: number;
  high: number;
}

export function superheat(state: State, curves: Curves): number {
  return state.suctionLine - curves.dewTemperature(state.suction);
}

export function subcooling(state: State, curves: Curves): number {
  return curves.bubbleTemperature(state.head) - state.liquidLine;
}

export interface Limits {
  statedHead?: number | null;
  highPressureSwitch?: number | null;
  workingLimit?: number | null;
}

export interface Criteria {
  switchMargin: number;
  dewLimit: number;
  dewLimitSwitchUnknown: number;
}

/** The head that must not be passed, and which limit sets it. */
export function ceiling(limits: Limits, curves: Curves, criteria: Criteria): { head: number; setBy: string } {
  const found: { head: number; setBy: string }[] = [];
  if (limits.statedHead) found.push({ head: limits.statedHead, setBy: "stated" });
  if (limits.highPressureSwitch) {
    const dew = curves.dewTemperature(limits.highPressureSwitch);
    if (!Number.isNaN(dew)) found.push({ head: curves.dewPressure(dew - criteria.switchMargin), setBy: "switch" });
  }
  if (limits.workingLimit) found.push({ head: limits.workingLimit, setBy: "maker" });
  const dew = limits.highPressureSwitch ? criteria.dewLimit : criteria.dewLimitSwitchUnknown;
  found.push({ head: curves.dewPressure(Math.min(dew, curves.maximumTemperature - 1)), setBy: "dew" });
  return found.reduce((a, b) => (b.head < a.head ? b : a));
}

/** d ln(volumetric efficiency) / d(pressure ratio) with its standard uncertainty (physics/compressor.py). */
function efficiencySlope(type: string | null | undefined): [number, number] {
  if (type === "scroll") return [-0.028, 0.012];
  if (type === "reciprocating") return [-0.095, 0.038];
  if (type === "rotary") return [-0.045, 0.035];
  return [-0.028, 0.022];
}

/** Outside diameter and wall of annealed refrigeration tube, both in inches (physics/pipe.py). */
const WALLS: readonly (readonly [number, number])[] = [
  [0.25, 0.03], [0.3125, 0.032], [0.375, 0.032], [0.5, 0.032], [0.625, 0.035],
  [0.75, 0.042], [0.875, 0.045], [1.125, 0.05], [1.375, 0.055], [1.625, 0.06],
]; // prettier-ignore

function insideDiameter(outside: number): number {
  const inches = outside / INCH;
  for (let i = 1; i < WALLS.length; i++) {
    const [[size0, wall0], [size1, wall1]] = [WALLS[i - 1]!, WALLS[i]!];
    if (inches <= size1 || i === WALLS.length - 1) {
      const share = Math.min(Math.max((inches - size0) / (size1 - size0), 0), 1);
      return (inches - 2 * (wall0 + share * (wall1 - wall0))) * INCH;
    }
  }
  return NaN;
}

/** Darcy–Weisbach with the factor of Churchill (1977). */
function frictionLoss(flow: number, diameter: number, length: number, density: number, viscosity: number): number {
  const speed = flow / (density * (Math.PI / 4) * diameter ** 2);
  const reynolds = (density * speed * diameter) / viscosity;
  const a = (-2.457 * Math.log((7 / reynolds) ** 0.9 + (0.27 * DRAWN_TUBE) / diameter)) ** 16;
  const b = (37530 / reynolds) ** 16;
  const factor = 8 * ((8 / reynolds) ** 12 + (a + b) ** -1.5) ** (1 / 12);
  return (((factor * length) / diameter) * density * speed ** 2) / 2;
}

/** Pressure lost between the head port and the metering device, and its standard uncertainty [Pa]. */
function lineLoss(known: Known, state: State, curves: Curves): [number, number] {
  const capacity = known.capacity || 3 * 3516.85;
  const length = known.packaged ? 2 : (known.lineLength ?? 7.6);
  const tube = insideDiameter(known.liquidLineDiameter || 0.375 * INCH);
  const liquid = Math.min(state.liquidLine, curves.bubbleTemperature(state.head));
  const dew = curves.dewTemperature(state.suction);
  const heat = curves.vaporEnthalpy(state.suction, Math.max(state.suctionLine, dew));
  const flow = capacity / Math.max(heat - curves.liquidEnthalpy(state.head, liquid), 5e4);
  const density = curves.liquidDensity(state.head, liquid);
  const viscosity = curves.liquidViscosity(Math.max(liquid, curves.minimumTemperature));
  const friction = frictionLoss(flow, tube, 1.3 * length, density, viscosity) + 10e3;
  const stated = (known.lift !== null && known.lift !== undefined) || known.packaged;
  const wide = stated ? 0.5 * friction : Math.hypot(0.5 * friction, 15e3);
  return [friction + density * GRAVITY * (known.lift || 0), wide];
}

function logFlow(state: State, slope: number, curves: Curves): number {
  const te = curves.dewTemperature(state.suction);
  const effective = te + SUPERHEAT_SHARE * Math.max(state.suctionLine - te, 0);
  return Math.log(curves.vaporDensity(state.suction, Math.max(effective, te))) + (slope * state.head) / state.suction;
}

function logDrive(state: State, loss: number, curves: Curves): number {
  const tc = curves.bubbleTemperature(state.head);
  const density = curves.liquidDensity(state.head, Math.min(state.liquidLine, tc));
  return 0.5 * Math.log(density * Math.max(state.head - loss - state.suction, 1));
}

/**
 * Feed held between the baseline and the readings now: 1 − Δln m / Δln d with Fieller's interval; null while the push
 * resolves nothing or a reading lies outside the curves.
 */
export function feedHeld(before: State, during: State, curves: Curves, known: Known): FeedHeld | null {
  const [slope, slopeU] = efficiencySlope(known.compressorType);
  const [loss, lossU] = lineLoss(known, before, curves);
  const both = (during: State, k: number, dp: number): [number, number] => [
    logFlow(during, k, curves) - logFlow(before, k, curves),
    logDrive(during, dp, curves) - logDrive(before, dp, curves),
  ];
  const [y, x] = both(during, slope, loss);
  const suctionChange = (known.needles ? 0.8 : 0.25) * PSI;
  const headChange = (known.needles ? 4 : 1.5) * PSI;
  const temperatureChange = 0.3 * F;
  const te = curves.dewPressure(curves.dewTemperature(during.suction) + LOAD_UNCERTAINTY) - during.suction;
  const sources: [State, number, number][] = [
    [{ ...during, suction: during.suction + suctionChange }, slope, loss],
    [{ ...during, head: during.head + headChange }, slope, loss],
    [{ ...during, suctionLine: during.suctionLine + temperatureChange }, slope, loss],
    [{ ...during, liquidLine: during.liquidLine - temperatureChange }, slope, loss],
    [{ ...during, suction: during.suction + te, suctionLine: during.suctionLine + LOAD_UNCERTAINTY }, slope, loss],
    [during, slope + slopeU, loss],
    [during, slope, loss + lossU],
  ];
  let [yy, xx, xy] = [0, 0, 0];
  for (const [state, k, dp] of sources) {
    const [y1, x1] = both(state, k, dp);
    const [dy, dx] = [y1 - y, x1 - x];
    yy += dy * dy;
    xx += dx * dx;
    xy += dx * dy;
  }
  if (!(Math.abs(x) > 3 * Math.sqrt(xx))) return null;
  const interval = fieller(y, x, yy, xx, xy, 1.96);
  return interval && { value: 1 - y / x, low: 1 - interval[1], high: 1 - interval[0] };
}

/** Interval of the ratio y/x of two correlated normal values; null if unbounded. */
function fieller(y: number, x: number, yy: number, xx: number, xy: number, k: number): [number, number] | null {
  const a = x * x - k * k * xx;
  const b = x * y - k * k * xy;
  const c = y * y - k * k * yy;
  const root = b * b - a * c;
  if (!(a > 0) || !(root >= 0)) return null;
  const wide = Math.sqrt(root);
  return [(b - wide) / a, (b + wide) / a];
}
