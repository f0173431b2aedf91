/** Reads vectors from standard input and answers with what this app computes for them. */
import { Curves, type CoefficientEntry } from "../src/physics/curves";
import { ceiling, feedHeld, type Criteria, type Known, type Limits, type State } from "../src/physics/provisional";
import { decimate, Trace } from "../src/chart/decimate";

interface Ask {
  saturation: { refrigerant: string; pressure: number; temperature: number }[];
  states: { refrigerant: string; pressure: number; temperature: number; phase: "vapor" | "liquid" }[];
  feed: { refrigerant: string; before: State; during: State; known: Known }[];
  ceiling: { refrigerant: string; limits: Limits; criteria: Criteria }[];
  decimate: { rows: (number | null)[][]; from: number; to: number; columns: number; gap: number }[];
}

const chunks: Buffer[] = [];
for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
const { file, ask } = JSON.parse(Buffer.concat(chunks).toString()) as { file: Record<string, CoefficientEntry>; ask: Ask };
const known = new Map<string, Curves>();
const of = (name: string): Curves => {
  if (!known.has(name)) known.set(name, new Curves(file[name]!));
  return known.get(name)!;
};
const answer = {
  saturation: ask.saturation.map(({ refrigerant, pressure, temperature }) => {
    const c = of(refrigerant);
    return [c.dewTemperature(pressure), c.bubbleTemperature(pressure), c.dewPressure(temperature), c.bubblePressure(temperature)];
  }),
  states: ask.states.map(({ refrigerant, pressure, temperature, phase }) => {
    const c = of(refrigerant);
    return phase === "vapor"
      ? [c.vaporDensity(pressure, temperature), c.vaporEnthalpy(pressure, temperature)]
      : [c.liquidDensity(pressure, temperature), c.liquidEnthalpy(pressure, temperature)];
  }),
  feed: ask.feed.map(({ refrigerant, before, during, known }) => feedHeld(before, during, of(refrigerant), known)),
  ceiling: ask.ceiling.map(({ refrigerant, limits, criteria }) => ceiling(limits, of(refrigerant), criteria)),
  decimate: ask.decimate.map(({ rows, from, to, columns, gap }) => {
    const trace = new Trace(rows[0]!.length - 1);
    for (const [time, ...values] of rows) trace.push(time!, values);
    return decimate(trace, from, to, columns, gap);
  }),
};
process.stdout.write(JSON.stringify(answer, (_, value) => (typeof value === "number" && !Number.isFinite(value) ? null : value)));
