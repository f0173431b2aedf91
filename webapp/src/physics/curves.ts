/**
 * Refrigerant properties from the coefficient file: the same polynomials as src/steadfeed/physics, for one number.
 *
 * SI, absolute: pressure [Pa], temperature [K], density [kg/m3], enthalpy [J/kg]. Outside the range of the file: NaN, never an
 * extrapolation. tests/browser/test_golden_vectors.py holds both programs equal.
 */

export interface CoefficientEntry {
  name: string;
  kind: string;
  safety_class: string;
  uncertainty: number;
  pressure: [number, number];
  pressure_scale: [number, number, number];
  near_line: number;
  bubble_temperature: number[];
  bubble_ln_pressure: number[];
  dew_temperature: number[];
  dew_ln_pressure: number[];
  vapor: { bound: number; gas_constant: number; compressibility: number[][]; enthalpy: number[][] };
  liquid: { bound: number; density: number[][]; enthalpy: number[][] };
  viscosity: { temperature: [number, number]; liquid: number[] };
}

/** A state this far beyond the saturation line still counts as on it [K]. */
const ON_THE_LINE = 2e-3;

/** Evaluate a polynomial whose coefficients come in rising powers. */
function rising(x: number, powers: readonly number[]): number {
  let result = 0;
  for (let i = powers.length - 1; i >= 0; i--) result = result * x + powers[i]!;
  return result;
}

function slope(x: number, powers: readonly number[]): number {
  let result = 0;
  for (let i = powers.length - 1; i >= 1; i--) result = result * x + powers[i]! * i;
  return result;
}

function surface(rows: readonly (readonly number[])[], a: number, b: number): number {
  let result = 0;
  for (let i = rows.length - 1; i >= 0; i--) result = result * b + rising(a, rows[i]!);
  return result;
}

export class Curves {
  readonly name: string;
  readonly minimumPressure: number;
  readonly maximumPressure: number;
  readonly minimumTemperature: number;
  readonly maximumTemperature: number;

  constructor(private readonly data: CoefficientEntry) {
    this.name = data.name;
    [this.minimumPressure, this.maximumPressure] = data.pressure;
    const ends = data.pressure.map((p) => this.scaled(p));
    this.minimumTemperature = Math.max(rising(ends[0]!, data.bubble_temperature), rising(ends[0]!, data.dew_temperature));
    this.maximumTemperature = Math.min(rising(ends[1]!, data.bubble_temperature), rising(ends[1]!, data.dew_temperature));
  }

  private scaled(p: number): number {
    const [constant, perLn, perPascal] = this.data.pressure_scale;
    return constant + perLn * Math.log(p) + perPascal * p;
  }

  private inRange(p: number): boolean {
    return p >= this.minimumPressure && p <= this.maximumPressure;
  }

  /** Temperature at which liquid begins to boil; subcooling counts from it. */
  bubbleTemperature(p: number): number {
    return this.inRange(p) ? rising(this.scaled(p), this.data.bubble_temperature) : NaN;
  }

  /** Temperature at which vapor begins to condense; superheat counts from it. */
  dewTemperature(p: number): number {
    return this.inRange(p) ? rising(this.scaled(p), this.data.dew_temperature) : NaN;
  }

  bubblePressure(t: number): number {
    return this.saturationPressure(t, this.data.bubble_temperature, this.data.bubble_ln_pressure);
  }

  dewPressure(t: number): number {
    return this.saturationPressure(t, this.data.dew_temperature, this.data.dew_ln_pressure);
  }

  private saturationPressure(t: number, line: number[], guess: number[]): number {
    const [low, high] = [rising(this.scaled(this.minimumPressure), line), rising(this.scaled(this.maximumPressure), line)];
    if (!(t >= low && t <= high)) return NaN;
    const [, perLn, perPascal] = this.data.pressure_scale;
    const [x0, x1] = [1 / rising(1, line), 1 / rising(-1, line)];
    const start = Math.exp(rising((2 / t - x0 - x1) / (x1 - x0), guess));
    const a = this.scaled(start);
    const step = (t - rising(a, line)) / slope(a, line);
    const p = start * Math.exp(step / (perLn + perPascal * start));
    return Math.min(Math.max(p, this.minimumPressure), this.maximumPressure);
  }

  /** Density of superheated (or dew) vapor. */
  vaporDensity(p: number, t: number): number {
    const { bound, gas_constant, compressibility } = this.data.vapor;
    return p / (this.onSurface(compressibility, p, t, this.data.dew_temperature, bound) * gas_constant * t);
  }

  /** Density of subcooled (or bubble) liquid. */
  liquidDensity(p: number, t: number): number {
    const { bound, density } = this.data.liquid;
    return this.onSurface(density, p, t, this.data.bubble_temperature, bound);
  }

  /** Enthalpy of superheated (or dew) vapor [J/kg]. */
  vaporEnthalpy(p: number, t: number): number {
    return this.onSurface(this.data.vapor.enthalpy, p, t, this.data.dew_temperature, this.data.vapor.bound);
  }

  /** Enthalpy of subcooled (or bubble) liquid [J/kg]. */
  liquidEnthalpy(p: number, t: number): number {
    return this.onSurface(this.data.liquid.enthalpy, p, t, this.data.bubble_temperature, this.data.liquid.bound);
  }

  /** Viscosity of bubble liquid [Pa s]. */
  liquidViscosity(t: number): number {
    const [low, high] = this.data.viscosity.temperature;
    return t >= low && t <= high ? Math.exp(rising((2 * t - low - high) / (high - low), this.data.viscosity.liquid)) : NaN;
  }

  private onSurface(rows: number[][], p: number, t: number, line: number[], bound: number): number {
    if (!this.inRange(p)) return NaN;
    const a = this.scaled(p);
    const saturated = rising(a, line);
    let share = (t - saturated) / (bound - saturated);
    if (!(share >= 0 && share <= 1)) {
      if (!(Math.abs(t - saturated) <= ON_THE_LINE)) return NaN;
      share = 0;
    }
    const width = this.data.near_line;
    const b = (2 / Math.log((1 + width) / width)) * Math.log(share / width + 1) - 1;
    return surface(rows, a, b);
  }
}
