/**
 * The strip chart on a canvas: pressures in the upper two thirds, superheat and subcooling in the lower third, the
 * newest reading at 84 % of the width. uPlot draws the pens; bands, ceiling, forecast and words are ours.
 */

import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import type { Units } from "../units";
import { decimate, type Cell, type Trace } from "./decimate";

export interface Band {
  word: string;
  from: number;
  to: number | null;
}

export interface Forecast {
  after: number;
  low: number;
  high: number;
}

export interface View {
  bands: Band[];
  marks: { at: number; text: string }[];
  /** Absolute [Pa]; null while none is known. */
  ceiling: number | null;
  forecast: Forecast[];
  /** Pens that have stopped, by name, with the time of their last reading. */
  silent: Record<string, number>;
  /** Words at the ends of the pens: head, suction, superheat, subcooling. */
  words: [string, string, string, string];
  ceilingWord: string;
  now: number;
  start: number;
  points: boolean;
  /** Superheat and subcooling are drawn while the compressor runs: until here; null: to the end. */
  ranUntil: number | null;
  /** … and from here: what stands before it is no superheat. */
  ranFrom: number | null;
  second: Trace | null;
  secondWord: string;
}

const NEWEST = 0.84;
const SHORTEST = 240;
const UPPER = 2 / 3;
const KINDS = ["pressure", "pressure", "temperature_difference", "temperature_difference"] as const;
const PEN_WIDTH = 3;
/** Room for the numbers of the axes, left of the paper. */
const GUTTER = 50;
const LINE = 20;

interface Look {
  ink: string;
  muted: string;
  ground: string;
  band: string;
  rule: string;
  low: string;
  high: string;
  font: string;
}

function look(): Look {
  const style = getComputedStyle(document.documentElement);
  const get = (name: string): string => style.getPropertyValue(name).trim();
  return {
    ink: get("--ink"),
    muted: get("--muted"),
    ground: get("--ground"),
    band: get("--band"),
    rule: get("--rule"),
    low: get("--low"),
    high: get("--high"),
    font: '"Public Sans", Arial, sans-serif',
  };
}

/** Round steps for an axis: 1, 2 or 5 times a power of ten. */
export function niceStep(span: number, most: number): number {
  const raw = span / Math.max(1, most);
  const power = 10 ** Math.floor(Math.log10(raw));
  const share = raw / power;
  return power * (share <= 1 ? 1 : share <= 2 ? 2 : share <= 5 ? 5 : 10);
}

interface Range {
  low: number;
  high: number;
  step: number;
}

export class Strip {
  private plot: uPlot;
  private view: View;
  private look = look();
  private upper: Range = { low: 0, high: 500, step: 100 };
  private lower: Range = { low: 0, high: 30, step: 10 };
  private columns = 300;
  private gap = 20;
  frames = 0;

  constructor(
    readonly parent: HTMLElement,
    private trace: Trace,
    view: View,
    private units: Units,
  ) {
    this.view = view;
    const series = (stroke: () => string, dash: number[], scale: string): uPlot.Series => ({
      stroke,
      dash,
      scale,
      width: PEN_WIDTH,
      points: { show: () => this.view.points, size: 9, width: 3, fill: () => this.look.ground },
      spanGaps: false,
      paths: uPlot.paths.linear!({ alignGaps: 0 }),
    });
    this.plot = new uPlot(
      {
        width: 300,
        height: 200,
        legend: { show: false },
        cursor: { show: false },
        padding: [10, 0, 28, GUTTER],
        ms: 1e-3,
        scales: {
          x: { time: false, range: () => this.timeRange() },
          p: { range: () => [this.upper.low - ((this.upper.high - this.upper.low) * (1 - UPPER)) / UPPER, this.upper.high] },
          t: { range: () => [this.lower.low, this.lower.low + (this.lower.high - this.lower.low) / (1 - UPPER)] },
        },
        axes: [{ show: false }, { scale: "p", show: false }, { scale: "t", show: false }],
        series: [
          {},
          series(() => this.look.high, [], "p"),
          series(() => this.look.low, [12, 7], "p"),
          series(() => this.look.ink, [], "t"),
          series(() => this.look.ink, [3, 6], "t"),
        ],
        hooks: { drawClear: [(u) => this.ground(u)], draw: [(u) => this.over(u)] },
      },
      [[0, 1], [null, null], [null, null], [null, null], [null, null]],
      parent,
    );
    // a canvas draws with what is there: once more when the fonts are
    void Promise.all(["18px", "700 18px"].map((size) => document.fonts.load(`${size} "Public Sans"`))).then(() => this.draw());
  }

  private timeRange(): [number, number] {
    const { now, start } = this.view;
    const shown = Math.max(SHORTEST, now - start);
    const whole = shown / NEWEST;
    return [now - shown, now - shown + whole];
  }

  resize(width: number, height: number): void {
    if (width < 10 || height < 10) return;
    this.columns = Math.max(60, Math.round(width - GUTTER));
    this.plot.setSize({ width, height });
    this.draw();
  }

  /** After the scheme or the units have changed. */
  restyle(units: Units): void {
    this.units = units;
    this.look = look();
    this.draw();
  }

  update(trace: Trace, view: View): void {
    this.trace = trace;
    this.view = view;
    this.draw();
  }

  draw(): void {
    this.frames++;
    const [from, to] = this.timeRange();
    this.gap = this.view.points ? Infinity : Math.max(20, (to - from) / 40);
    const [times, ...cells] = decimate(this.trace, from, to, this.columns, this.gap);
    const pens = cells.map((pen, i) => {
      const kind = KINDS[i]!;
      const until = i >= 2 ? (this.view.ranUntil ?? Infinity) : Infinity;
      const from = i >= 2 ? (this.view.ranFrom ?? -Infinity) : -Infinity;
      const shown = (at: number): boolean => times[at]! <= until && times[at]! >= from;
      return pen.map((v, at): Cell => (typeof v !== "number" ? v : shown(at) ? this.units.fromSi(v, kind) : null));
    });
    this.fit(pens as Cell[][]);
    const data = times.length ? [times, ...pens] : [[from, to], [null, null], [null, null], [null, null], [null, null]];
    this.plot.setData(data as unknown as uPlot.AlignedData, true);
  }

  private fit(pens: Cell[][]): void {
    const [lowP, highP] = extremes([pens[0]!, pens[1]!]);
    const ceiling = this.view.ceiling === null ? -Infinity : this.units.fromSi(this.view.ceiling, "pressure");
    const near = ceiling - (highP - lowP) * 1.2 < highP ? ceiling : -Infinity;
    const height = this.plot.height - 38;
    const most = Math.min(5, Math.max(1, Math.floor((height * UPPER) / 36)));
    this.upper = padded(Number.isFinite(lowP) ? Math.min(lowP, highP) : 0, Math.max(highP, near, 1), most, this.upper);
    const [lowT, highT] = extremes([pens[2]!, pens[3]!]);
    const wide = this.units.system === "us" ? 20 : 12;
    this.lower = padded(Math.min(0, Number.isFinite(lowT) ? lowT : 0), Math.max(wide, Number.isFinite(highT) ? highT : 0), height * (1 - UPPER) > 76 ? 2 : 1, this.lower);
  }

  /** Phase bands, the line between the thirds, and the pens' paper. */
  private ground(u: uPlot): void {
    const { ctx, bbox } = u;
    const ratio = devicePixelRatio;
    ctx.save();
    ctx.fillStyle = this.look.ground;
    ctx.fillRect(0, 0, ctx.canvas.width, ctx.canvas.height);
    this.view.bands.forEach((band, i) => {
      if (i % 2) return;
      const x0 = Math.max(bbox.left, u.valToPos(band.from, "x", true));
      const x1 = Math.min(bbox.left + bbox.width, u.valToPos(band.to ?? this.view.now, "x", true));
      if (x1 <= x0) return;
      ctx.fillStyle = this.look.band;
      ctx.fillRect(x0, bbox.top, x1 - x0, bbox.height);
    });
    const y = bbox.top + bbox.height * UPPER;
    this.drawAxis(u, "p", this.upper, bbox.top, y, ratio);
    this.drawAxis(u, "t", this.lower, y, bbox.top + bbox.height, ratio);
    ctx.fillStyle = this.look.ink;
    ctx.fillRect(bbox.left, y - 1.5 * ratio, bbox.width, PEN_WIDTH * ratio);
    ctx.restore();
  }

  /** Lines and numbers of one third of the paper; its unit stands on top of them. */
  private drawAxis(u: uPlot, scale: "p" | "t", { low, high, step }: Range, top: number, bottom: number, ratio: number): void {
    const { ctx, bbox } = u;
    const x = bbox.left - 6 * ratio;
    ctx.textAlign = "right";
    ctx.textBaseline = "middle";
    ctx.font = `${18 * ratio}px ${this.look.font}`;
    const unitY = top + 10 * ratio;
    ctx.fillStyle = this.look.muted;
    ctx.fillText(this.units.unit(scale === "p" ? "pressure" : "temperature_difference"), x, unitY);
    for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + step * 1e-9; v += step) {
      const y = u.valToPos(v, scale, true);
      if (y > bottom + 1 || y < top - 1) continue;
      ctx.fillStyle = this.look.rule;
      ctx.fillRect(bbox.left, y - 0.5 * ratio, bbox.width, ratio);
      if (y < unitY + LINE * ratio) continue;
      ctx.fillStyle = this.look.muted;
      const text = step < 1 ? v.toFixed(1) : `${Math.round(v * 10) / 10}`;
      ctx.fillText(text.replace("-", "−"), x, Math.min(y, bottom - 9 * ratio));
    }
  }

  private over(u: uPlot): void {
    const { ctx } = u;
    const ratio = devicePixelRatio;
    ctx.save();
    ctx.textBaseline = "middle";
    ctx.font = `700 ${18 * ratio}px ${this.look.font}`;
    this.drawCeiling(u, ratio);
    this.drawForecast(u, ratio);
    this.drawSecond(u, ratio);
    this.drawMarks(u, ratio);
    this.drawBandWords(u, ratio);
    this.drawPenWords(u, ratio);
    ctx.restore();
  }

  private drawCeiling(u: uPlot, ratio: number): void {
    if (this.view.ceiling === null) return;
    const { ctx, bbox } = u;
    const value = this.units.fromSi(this.view.ceiling, "pressure");
    if (value > this.upper.high) return;
    const y = u.valToPos(value, "p", true);
    ctx.strokeStyle = this.look.ink;
    ctx.lineWidth = PEN_WIDTH * ratio;
    ctx.setLineDash([3 * ratio, 6 * ratio]);
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
    ctx.setLineDash([]);
    const text = `${this.view.ceilingWord} ${this.units.number(this.view.ceiling, "pressure")}`;
    const below = y - bbox.top < 22 * ratio;
    this.word(ctx, text, bbox.left + 6 * ratio, y + (below ? 15 : -14) * ratio, this.look.ink, "left", ratio);
  }

  private drawForecast(u: uPlot, ratio: number): void {
    const points = this.view.forecast;
    if (!points.length) return;
    const { ctx } = u;
    const last = this.lastOf(0);
    if (last === null) return;
    const x = (s: number): number => u.valToPos(this.view.now + s, "x", true);
    const y = (p: number): number => u.valToPos(Math.min(this.units.fromSi(p, "pressure"), this.upper.high), "p", true);
    ctx.save();
    ctx.beginPath();
    ctx.moveTo(x(0), y(last));
    for (const point of points) ctx.lineTo(x(point.after), y(point.high));
    for (const point of [...points].reverse()) ctx.lineTo(x(point.after), y(point.low));
    ctx.closePath();
    ctx.clip();
    ctx.strokeStyle = this.look.high;
    ctx.lineWidth = PEN_WIDTH * ratio;
    const [x0, x1] = [x(0), x(points[points.length - 1]!.after)];
    const { bbox } = u;
    for (let at = x0 - bbox.height; at < x1 + bbox.height; at += 8 * ratio) {
      ctx.beginPath();
      ctx.moveTo(at, bbox.top + bbox.height);
      ctx.lineTo(at + bbox.height, bbox.top);
      ctx.stroke();
    }
    ctx.restore();
  }

  /** Head of another circuit on the same coil or fans: a thin second pen with its word. */
  private drawSecond(u: uPlot, ratio: number): void {
    const trace = this.view.second;
    if (!trace?.length) return;
    const [from, to] = this.timeRange();
    const [times, head] = decimate(trace, from, to, this.columns, this.gap) as [number[], Cell[]];
    const { ctx } = u;
    ctx.strokeStyle = this.look.high;
    ctx.lineWidth = PEN_WIDTH * ratio;
    ctx.setLineDash([2 * ratio, 4 * ratio]);
    ctx.beginPath();
    let end: [number, number] | null = null;
    times.forEach((time, i) => {
      const value = head[i];
      if (typeof value !== "number") return;
      const at: [number, number] = [u.valToPos(time, "x", true), u.valToPos(this.units.fromSi(value, "pressure"), "p", true)];
      if (end) ctx.lineTo(...at);
      else ctx.moveTo(...at);
      end = at;
    });
    ctx.stroke();
    ctx.setLineDash([]);
    if (end) this.word(ctx, this.view.secondWord, end[0] + 6 * ratio, end[1], this.look.high, "left", ratio);
  }

  private drawMarks(u: uPlot, ratio: number): void {
    const { ctx, bbox } = u;
    for (const mark of this.view.marks) {
      const x = u.valToPos(mark.at, "x", true);
      if (x < bbox.left || x > bbox.left + bbox.width) continue;
      ctx.fillStyle = this.look.ink;
      ctx.beginPath();
      ctx.moveTo(x - 7 * ratio, bbox.top);
      ctx.lineTo(x + 7 * ratio, bbox.top);
      ctx.lineTo(x, bbox.top + 12 * ratio);
      ctx.fill();
    }
  }

  private drawBandWords(u: uPlot, ratio: number): void {
    const { ctx, bbox } = u;
    ctx.font = `${18 * ratio}px ${this.look.font}`;
    let free = bbox.left;
    const y = bbox.top + bbox.height + 14 * ratio;
    for (const band of this.view.bands) {
      const x0 = Math.max(bbox.left, u.valToPos(band.from, "x", true));
      const x1 = Math.min(bbox.left + bbox.width, u.valToPos(band.to ?? this.view.now, "x", true));
      const width = ctx.measureText(band.word).width + 8 * ratio;
      const at = Math.max(x0, free);
      if (x1 <= bbox.left || at + width > Math.max(x1, band.to === null ? bbox.left + bbox.width : x1) + 4 * ratio) continue;
      this.word(ctx, band.word, at + 4 * ratio, y, this.look.muted, "left", ratio);
      free = at + width;
    }
    ctx.font = `700 ${18 * ratio}px ${this.look.font}`;
  }

  private lastOf(pen: number): number | null {
    const values = this.trace.pens[pen]!;
    const until = pen >= 2 ? (this.view.ranUntil ?? Infinity) : Infinity;
    const end = until < Infinity ? this.trace.at(until) : this.trace.length;
    const begin = pen >= 2 && this.view.ranFrom !== null ? this.trace.at(this.view.ranFrom) : 0;
    for (let i = end - 1; i >= Math.max(begin, end - 400); i--)
      if (values[i] === values[i]) return values[i]!;
    return null;
  }

  private drawPenWords(u: uPlot, ratio: number): void {
    const { ctx, bbox } = u;
    const colours = [this.look.high, this.look.low, this.look.ink, this.look.ink];
    const middle = bbox.top + bbox.height * UPPER;
    const right = bbox.left + bbox.width - 4 * ratio;
    const off = 15 * ratio;
    for (const [pens, scale, top, bottom] of [
      [[0, 1], "p", bbox.top, middle],
      [[2, 3], "t", middle, bbox.top + bbox.height],
    ] as const) {
      const ends = pens
        .map((pen) => ({ pen, last: this.lastOf(pen) }))
        .filter((end): end is { pen: (typeof pens)[number]; last: number } => end.last !== null)
        .map(({ pen, last }) => ({ pen, y: u.valToPos(this.units.fromSi(last, KINDS[pen]!), scale, true) }))
        .sort((a, b) => a.y - b.y);
      // the upper pen's word above it, the lower one's below: no word lies on a pen
      let taken = -Infinity;
      ends.forEach(({ pen, y }, i) => {
        let at = i === 0 && ends.length > 1 ? y - off : y + off;
        if (ends.length === 1) at = y - off;
        if (at < top + 11 * ratio) at = y + off;
        if (at > bottom - 10 * ratio) at = y - off;
        at = Math.min(Math.max(at, top + 11 * ratio, taken + LINE * ratio), bottom - 10 * ratio);
        taken = at;
        this.word(ctx, this.view.words[pen]!, right, at, colours[pen]!, "right", ratio);
      });
    }
    for (const [name, since] of Object.entries(this.view.silent)) {
      const x0 = Math.max(bbox.left, u.valToPos(since, "x", true));
      const x1 = u.valToPos(this.view.now, "x", true);
      const lower = name === "superheat" || name === "subcooling";
      const [top, bottom] = lower ? [middle, bbox.top + bbox.height] : [bbox.top, middle];
      ctx.save();
      ctx.beginPath();
      ctx.rect(x0, top, Math.max(0, x1 - x0), bottom - top);
      ctx.clip();
      ctx.strokeStyle = this.look.muted;
      ctx.lineWidth = 2 * ratio;
      for (let at = x0 - (bottom - top); at < x1; at += 12 * ratio) {
        ctx.beginPath();
        ctx.moveTo(at, bottom);
        ctx.lineTo(at + bottom - top, top);
        ctx.stroke();
      }
      ctx.restore();
    }
  }

  /** A word on a piece of paper of its own, so that no line runs through it. */
  private word(
    ctx: CanvasRenderingContext2D,
    text: string,
    x: number,
    y: number,
    colour: string,
    align: "left" | "right",
    ratio: number,
  ): void {
    ctx.textAlign = align;
    ctx.lineJoin = "round";
    ctx.lineWidth = 5 * ratio;
    ctx.strokeStyle = this.look.ground;
    ctx.strokeText(text, x, y);
    ctx.fillStyle = colour;
    ctx.fillText(text, x, y);
  }

  destroy(): void {
    this.plot.destroy();
  }
}

function extremes(pens: Cell[][]): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const pen of pens)
    for (const v of pen)
      if (typeof v === "number") {
        if (v < low) low = v;
        if (v > high) high = v;
      }
  return [low, high];
}

/** Round a range outwards to its steps; keep the one before while it still fits well, so that the paper does not jump. */
function padded(low: number, high: number, most: number, before: Range): Range {
  if (!(high > low)) high = low + 1;
  const fits =
    low >= before.low && high <= before.high && high - low > 0.45 * (before.high - before.low) && (before.high - before.low) / before.step <= most + 2;
  if (fits) return before;
  const step = niceStep((high - low) * 1.15, most);
  return { low: Math.floor(low / step) * step, high: Math.ceil((high + 0.08 * (high - low)) / step) * step, step };
}
