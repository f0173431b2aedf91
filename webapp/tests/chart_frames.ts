/** Redraws a strip chart of 4 × 20,000 readings at every frame and counts; for benchmarks/phone.py. */
import { Trace } from "../src/chart/decimate";
import { Strip, type View } from "../src/chart/strip";
import { Units } from "../src/units";

export function frames(seconds: number, rows: number): Promise<number> {
  const box = document.createElement("div");
  box.style.cssText = "position:fixed;inset:0;width:390px;height:380px";
  document.body.append(box);
  const trace = new Trace(4);
  for (let i = 0; i < rows; i++)
    trace.push(i / 10, [2.7e6 + 3e5 * Math.sin(i / 700) + 2e3 * Math.random(), 9e5 + 1e3 * Math.random(), 8 + Math.random() / 5, 7 + Math.random() / 5]);
  const now = rows / 10;
  const view: View = {
    bands: [{ word: "baseline", from: 0, to: now / 3 }, { word: "hold", from: now / 3, to: null }],
    marks: [], ceiling: 3.8e6, forecast: [], silent: {}, words: ["head", "suction", "superheat", "subcooling"], ceilingWord: "ceiling",
    now, start: 0, points: false, ranUntil: null, ranFrom: null, second: null, secondWord: "",
  };
  const strip = new Strip(box, trace, view, new Units("us"));
  strip.resize(390, 380);
  return new Promise((done) => {
    const begin = performance.now();
    let count = 0;
    const step = (): void => {
      trace.push(now + ++count / 10, [2.7e6, 9e5, 8, 7]);
      strip.update(trace, { ...view, now: now + count / 10 });
      if (performance.now() - begin < seconds * 1000) requestAnimationFrame(step);
      else done(count / ((performance.now() - begin) / 1000));
    };
    requestAnimationFrame(step);
  });
}
