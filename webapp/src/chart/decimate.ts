/**
 * Thinning of pens to what the screen can show: of every column of pixels the least and the greatest reading of each
 * pen, in their order of time, so that no spike is lost. All pens share their times.
 */

export type Cell = number | null | undefined;

/** Readings of several pens over shared times; cells that were not read are NaN. */
export class Trace {
  private capacity = 2048;
  length = 0;
  time = new Float64Array(this.capacity);
  pens: Float64Array[];

  constructor(readonly count: number) {
    this.pens = Array.from({ length: count }, () => new Float64Array(this.capacity));
  }

  /** Counts up when everything is thrown away: what was thinned before is worth nothing then. */
  life = 0;

  clear(): void {
    this.length = 0;
    this.life++;
  }

  /** Add one row. A row that is not later than the last one is left out: the stream may repeat itself. */
  push(time: number, values: readonly (number | null | undefined)[]): boolean {
    if (this.length && time <= this.time[this.length - 1]!) return false;
    if (this.length === this.capacity) this.grow();
    this.time[this.length] = time;
    for (let p = 0; p < this.count; p++) this.pens[p]![this.length] = values[p] ?? NaN;
    this.length++;
    return true;
  }

  private grow(): void {
    this.capacity *= 2;
    const wider = (old: Float64Array): Float64Array<ArrayBuffer> => {
      const wide = new Float64Array(this.capacity);
      wide.set(old);
      return wide;
    };
    this.time = wider(this.time);
    this.pens = this.pens.map(wider);
  }

  /** Index of the first row at or after a time. */
  at(time: number): number {
    let [low, high] = [0, this.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.time[middle]! < time) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}

/**
 * Thin the rows between two times to two times a column, at most three. Rows that were thinned once are not looked at again, so
 * that a redraw costs what came since the last one, not the whole test.
 *
 * columns: how many pixels wide the pens are drawn. gap: a pen without a reading for longer than this [s] is broken
 * (null); a shorter one is bridged (undefined).
 */
export function decimate(trace: Trace, from: number, to: number, columns: number, gap: number): [number[], ...Cell[][]] {
  const first = Math.max(0, trace.at(from) - 1);
  const end = Math.min(trace.length, trace.at(to) + 1);
  const rows = end - first;
  return rows <= 2 * columns ? asTheyAre(trace, first, end, gap) : byBucket(trace, from, to, columns, gap);
}

function asTheyAre(trace: Trace, first: number, end: number, gap: number): [number[], ...Cell[][]] {
  const times: number[] = Array.from(trace.time.subarray(first, end));
  const pens = trace.pens.map((values) => {
    const cells: Cell[] = new Array<Cell>(times.length);
    let last = -Infinity;
    for (let i = 0; i < times.length; i++) {
      const value = values[first + i]!;
      const known = value === value;
      if (known) {
        if (times[i]! - last > gap && i > 0 && last > -Infinity) breakBefore(cells, i);
        last = times[i]!;
      }
      cells[i] = known ? value : undefined;
    }
    return cells;
  });
  return [times, ...pens];
}

/** Put a gap before cell i: into the cell before it when that holds no reading, else nowhere to put it. */
function breakBefore(cells: Cell[], i: number): void {
  if (cells[i - 1] === undefined) cells[i - 1] = null;
}

/**
 * Pieces of time of one width, at whole multiples of it: of each pen the least and the greatest reading, which of them
 * came first, and when the pen was read first and last. What lies in a piece that is over never changes.
 */
class Buckets {
  rows = 0;
  count = 0;
  begins: number[] = [];
  ends: number[] = [];
  readonly pens: { least: number[]; greatest: number[]; falling: boolean[]; seen: number[]; last: number[] }[];
  private piece = -Infinity;

  constructor(
    readonly width: number,
    readonly life: number,
    pens: number,
  ) {
    this.pens = Array.from({ length: pens }, () => ({ least: [], greatest: [], falling: [], seen: [], last: [] }));
  }

  take(trace: Trace): void {
    const { time, length } = trace;
    for (let i = this.rows; i < length; i++) {
      const at = time[i]!;
      const piece = Math.floor(at / this.width);
      if (piece !== this.piece) {
        this.piece = piece;
        this.begins.push(at);
        this.ends.push(at);
        this.count++;
        for (const pen of this.pens) {
          pen.least.push(NaN);
          pen.greatest.push(NaN);
          pen.falling.push(false);
          pen.seen.push(NaN);
          pen.last.push(NaN);
        }
      }
      const b = this.count - 1;
      this.ends[b] = at;
      for (let p = 0; p < this.pens.length; p++) {
        const value = trace.pens[p]![i]!;
        if (value !== value) continue;
        const pen = this.pens[p]!;
        if (pen.seen[b] !== pen.seen[b]) {
          pen.seen[b] = at;
          pen.least[b] = pen.greatest[b] = value;
        } else if (value < pen.least[b]!) {
          pen.least[b] = value;
          pen.falling[b] = true;
        } else if (value > pen.greatest[b]!) {
          pen.greatest[b] = value;
          pen.falling[b] = false;
        }
        pen.last[b] = at;
      }
    }
    this.rows = length;
  }
}

const kept = new WeakMap<Trace, Buckets>();

function byBucket(trace: Trace, from: number, to: number, columns: number, gap: number): [number[], ...Cell[][]] {
  // about a column wide (0.7 to 1.4): a chart that grows needs another width only when it has doubled
  const width = 2 ** Math.round(Math.log2((to - from) / columns || 1));
  let buckets = kept.get(trace);
  if (!buckets || buckets.width !== width || buckets.life !== trace.life || buckets.rows > trace.length)
    kept.set(trace, (buckets = new Buckets(width, trace.life, trace.count)));
  buckets.take(trace);
  let first = 0;
  let end = buckets.count;
  while (first < end - 1 && buckets.ends[first]! < from) first++;
  while (end > first + 1 && buckets.begins[end - 1]! > to) end--;
  // two slots a piece: its first reading's time and its last one's
  const count = end - first;
  const slots: number[] = new Array<number>(2 * count);
  for (let c = 0; c < count; c++) {
    const begin = buckets.begins[first + c]!;
    slots[2 * c] = begin;
    slots[2 * c + 1] = Math.max(buckets.ends[first + c]!, begin + width * 1e-3);
  }
  const pens = buckets.pens.map((pen) => {
    const cells: Cell[] = new Array<Cell>(2 * count);
    let last = NaN;
    for (let c = 0; c < count; c++) {
      const b = first + c;
      const seen = pen.seen[b]!;
      if (seen !== seen) {
        cells[2 * c] = cells[2 * c + 1] = undefined;
        continue;
      }
      if (seen - last > gap && cells[2 * c - 1] === undefined) cells[2 * c - 1] = null;
      last = pen.last[b]!;
      cells[2 * c] = pen.falling[b] ? pen.greatest[b]! : pen.least[b]!;
      cells[2 * c + 1] = pen.falling[b] ? pen.least[b]! : pen.greatest[b]!;
    }
    return cells;
  });
  return [slots, ...pens];
}
