/** Units at the edge: SI inside, what the person chose on the screen. The only file of the app that knows them. */

export type UnitSystem = "us" | "si";

export const STANDARD_ATMOSPHERE = 101325;
const PSI = 6894.757293168361;
const POUND = 0.45359237;

/** Pressure of the air at an altitude [m], ICAO standard atmosphere. */
export function atmosphereAt(altitude: number): number {
  return 101325 * (1 - (0.0065 * altitude) / 288.15) ** 5.25588;
}

interface Shown {
  unit: string;
  factor: number;
  offset: number;
  digits: number;
  /** Unit word that the API takes. */
  word: string;
}

const US: Record<string, Shown> = {
  pressure: { unit: "psig", word: "psig", factor: PSI, offset: 0, digits: 0 },
  pressure_difference: { unit: "psi", word: "psi", factor: PSI, offset: 0, digits: 0 },
  pressure_rate: { unit: "psi/s", word: "psi/s", factor: PSI, offset: 0, digits: 1 },
  temperature: { unit: "°F", word: "degF", factor: 5 / 9, offset: (459.67 * 5) / 9, digits: 1 },
  temperature_difference: { unit: "°F", word: "degF", factor: 5 / 9, offset: 0, digits: 1 },
  length: { unit: "ft", word: "ft", factor: 0.3048, offset: 0, digits: 0 },
  mass: { unit: "oz", word: "oz", factor: POUND / 16, offset: 0, digits: 1 },
  diameter: { unit: "in", word: "in", factor: 0.0254, offset: 0, digits: 3 },
  capacity: { unit: "tons", word: "tons", factor: 3516.8528420667, offset: 0, digits: 1 },
};
const SI: Record<string, Shown> = {
  pressure: { unit: "bar", word: "barg", factor: 1e5, offset: 0, digits: 1 },
  pressure_difference: { unit: "bar", word: "bar", factor: 1e5, offset: 0, digits: 1 },
  pressure_rate: { unit: "bar/s", word: "bar/s", factor: 1e5, offset: 0, digits: 2 },
  temperature: { unit: "°C", word: "degC", factor: 1, offset: 273.15, digits: 1 },
  temperature_difference: { unit: "K", word: "K", factor: 1, offset: 0, digits: 1 },
  length: { unit: "m", word: "m", factor: 1, offset: 0, digits: 0 },
  mass: { unit: "kg", word: "kg", factor: 1, offset: 0, digits: 2 },
  diameter: { unit: "mm", word: "mm", factor: 1e-3, offset: 0, digits: 1 },
  capacity: { unit: "kW", word: "kW", factor: 1e3, offset: 0, digits: 1 },
};
const COMMON: Record<string, Shown> = {
  current: { unit: "A", word: "A", factor: 1, offset: 0, digits: 1 },
  power: { unit: "W", word: "W", factor: 1, offset: 0, digits: 0 },
  fraction: { unit: "%", word: "pct", factor: 0.01, offset: 0, digits: 0 },
  time: { unit: "s", word: "s", factor: 1, offset: 0, digits: 0 },
  share: { unit: "", word: "", factor: 1, offset: 0, digits: 2 },
  count: { unit: "", word: "", factor: 1, offset: 0, digits: 0 },
};

export interface Reading {
  number: string;
  unit: string;
}

export class Units {
  constructor(
    readonly system: UnitSystem,
    readonly atmosphere: number = STANDARD_ATMOSPHERE,
  ) {}

  private shown(kind: string): Shown {
    return (this.system === "us" ? US : SI)[kind] ?? COMMON[kind] ?? { unit: "", word: "", factor: 1, offset: 0, digits: 2 };
  }

  unit(kind: string): string {
    return this.shown(kind).unit;
  }

  /** Unit word that log files and the API take. */
  word(kind: string): string {
    return this.shown(kind).word;
  }

  fromSi(value: number, kind: string): number {
    const { factor, offset } = this.shown(kind);
    return (value - offset - (kind === "pressure" ? this.atmosphere : 0)) / factor;
  }

  toSi(value: number, kind: string): number {
    const { factor, offset } = this.shown(kind);
    return value * factor + offset + (kind === "pressure" ? this.atmosphere : 0);
  }

  number(value: number, kind: string, digits?: number): string {
    const text = this.fromSi(value, kind).toFixed(digits ?? this.shown(kind).digits);
    return (/^-[0.]*$/.test(text) ? text.slice(1) : text).replace("-", "−");
  }

  split(value: number | null | undefined, kind: string, digits?: number): Reading {
    if (value === null || value === undefined || !Number.isFinite(value)) return { number: "–", unit: this.unit(kind) };
    return { number: this.number(value, kind, digits), unit: this.unit(kind) };
  }

  text(value: number | null | undefined, kind: string, digits?: number): string {
    if (kind === "time" && typeof value === "number") return duration(value);
    const { number, unit } = this.split(value, kind, digits);
    return unit ? `${number} ${unit}` : number;
  }
}

/** "26 min", "2 min 10 s", "8 s": short enough for a sentence. */
export function duration(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  if (s < 60) return `${s} s`;
  if (s < 3600 && s % 60 && s < 600) return `${Math.floor(s / 60)} min ${s % 60} s`;
  if (s < 5400) return `${Math.round(s / 60)} min`;
  return `${Math.floor(s / 3600)} h ${Math.round((s % 3600) / 60)} min`;
}
