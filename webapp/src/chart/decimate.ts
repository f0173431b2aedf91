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

  clear(): void {
    this.length = 0;
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
 * Thin the rows between two times to at most two times a column.
 *
 * columns: how many pixels wide the pens are drawn. gap: a pen without a reading for longer than this [s] is broken
 * (null); a shorter one is bridged (undefined).
 */
export function decimate(trace: Trace, from: number, to: number, columns: number, gap: number): [number[], ...Cell[][]] {
  const first = Math.max(0, trace.at(from) - 1);
  const end = Math.min(trace.length, trace.at(to) + 1);
  const rows = end - first;
  return rows <= 2 * columns ? asTheyAre(trace, first, end, gap) : byColumn(trace, first, end, from, to, columns, gap);
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

function byColumn(
  trace: Trace,
  first: number,
  end: number,
  from: number,
  to: number,
  columns: number,
  gap: number,
): [number[], ...Cell[][]] {
  const width = (to - from) / columns || 1;
  const { time } = trace;
  const times: number[] = [];
  const starts: number[] = [];
  let column = -Infinity;
  for (let i = first; i < end; i++) {
    const here = Math.floor((time[i]! - from) / width);
    if (here !== column) {
      column = here;
      starts.push(i);
      times.push(time[i]!);
    }
  }
  starts.push(end);
  // two slots a column: its first reading's time and its last one's
  const slots: number[] = [];
  for (let c = 0; c < times.length; c++) {
    const last = time[starts[c + 1]! - 1]!;
    slots.push(times[c]!, last > times[c]! ? last : times[c]! + width * 1e-3);
  }
  const pens = trace.pens.map((values) => {
    const cells: Cell[] = new Array<Cell>(slots.length);
    let lastTime = -Infinity;
    for (let c = 0; c < times.length; c++) {
      let [least, greatest] = [NaN, NaN];
      let [leastAt, greatestAt] = [0, 0];
      let seen = -Infinity;
      let broken = false;
      for (let i = starts[c]!; i < starts[c + 1]!; i++) {
        const value = values[i]!;
        if (value !== value) continue;
        if (seen === -Infinity) broken = lastTime > -Infinity && time[i]! - lastTime > gap;
        seen = time[i]!;
        if (!(value >= least)) (least = value), (leastAt = i);
        if (!(value <= greatest)) (greatest = value), (greatestAt = i);
      }
      if (seen === -Infinity) {
        cells[2 * c] = cells[2 * c + 1] = undefined;
        continue;
      }
      if (broken && c > 0 && cells[2 * c - 1] === undefined) cells[2 * c - 1] = null;
      lastTime = seen;
      cells[2 * c] = leastAt <= greatestAt ? least : greatest;
      cells[2 * c + 1] = leastAt <= greatestAt ? greatest : least;
    }
    return cells;
  });
  return [slots, ...pens];
}
