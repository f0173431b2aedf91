/** One challenge while it runs: its state and its readings, over a socket that goes on where it broke. */

import { Trace } from "../chart/decimate";
import { connection, look } from "../keep/connection.svelte";
import { fact, keepFact } from "../keep/database";
import { settings } from "../keep/settings.svelte";
import { call, speech } from "./http";
import type { ChallengeState, Frame } from "./types";

export const PENS = ["head", "suction", "superheat", "subcooling"] as const;
/** Columns of the stream that feed the pens, in their order; the second is taken where the first is missing. */
const COLUMNS: readonly (readonly string[])[] = [
  ["head_pressure", "liquid_pressure", "discharge_pressure"],
  ["suction_pressure"],
  ["superheat"],
  ["subcooling"],
];
const ALIVE_EVERY = 2000;

export class LiveChallenge {
  state = $state.raw<ChallengeState | null>(null);
  linked = $state(false);
  /** Counts up with every batch of readings: what draws, watches this. */
  drawn = $state(0);
  /** The stream said that this challenge is not there (any more). */
  gone = $state<string | null>(null);
  readonly traces = new Map<string, Trace>();
  /** When a batch was last received [ms of performance.now()], for the figure in the tests. */
  receivedAt = 0;

  private socket: WebSocket | null = null;
  private sequence = -1;
  /** Sequence of the state that is shown. A server that was started anew counts from the beginning. */
  private newest = -1;
  private stream = "";
  private closed = false;
  private wait = 500;
  private alive: ReturnType<typeof setInterval> | null = null;
  private retry: ReturnType<typeof setTimeout> | null = null;

  constructor(readonly id: string) {}

  async open(): Promise<void> {
    const kept = await fact<ChallengeState>(`challenge ${this.id}`).catch(() => undefined);
    if (kept && !this.state) this.state = kept;
    this.connect();
    document.addEventListener("visibilitychange", this.sayAlive);
  }

  close(): void {
    this.closed = true;
    document.removeEventListener("visibilitychange", this.sayAlive);
    if (this.alive) clearInterval(this.alive);
    if (this.retry) clearTimeout(this.retry);
    this.socket?.close();
  }

  trace(circuit: string): Trace {
    let trace = this.traces.get(circuit);
    if (!trace) this.traces.set(circuit, (trace = new Trace(PENS.length)));
    return trace;
  }

  /** Circuit under test. */
  get tested(): ChallengeState["circuits"][number] | null {
    return this.state?.circuits.find((c) => c.place === "tested") ?? null;
  }

  take(state: ChallengeState): void {
    if (state.sequence < this.newest && this.linked) return;
    this.newest = state.sequence;
    this.state = state;
    void keepFact(`challenge ${this.id}`, state).catch(() => undefined);
  }

  /** Take a whole history, as the result screen has it. */
  takeRows(circuit: string, columns: string[], rows: (number | null)[][]): void {
    this.readings(circuit, columns, rows, true);
  }

  async refresh(): Promise<void> {
    this.take(await call("get", "/api/v1/challenges/{challenge_id}", { path: { challenge_id: this.id }, query: speech() }));
  }

  private connect(): void {
    if (this.closed) return;
    const query = new URLSearchParams({ language: settings.language, units: settings.units });
    if (this.stream) query.set("stream", this.stream);
    if (this.sequence >= 0) query.set("after", String(this.sequence));
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/api/v1/challenges/${this.id}/stream?${query}`);
    this.socket = socket;
    socket.onopen = () => {
      this.wait = 500;
      this.sayAlive();
      this.alive ??= setInterval(this.sayAlive, ALIVE_EVERY);
    };
    socket.onmessage = (event) => this.frame(JSON.parse(event.data as string) as Frame);
    socket.onclose = (event) => {
      if (this.socket !== socket) return;
      this.linked = false;
      if (event.code === 4404) this.gone = "no such challenge";
      if (event.code === 4401) connection.session = "none";
      if (this.closed || this.gone) return;
      void look();
      this.retry = setTimeout(() => this.connect(), this.wait);
      this.wait = Math.min(this.wait * 1.7, 5000);
    };
  }

  private sayAlive = (): void => {
    if (this.socket?.readyState !== WebSocket.OPEN) return;
    const watching = document.visibilityState === "visible";
    this.socket.send(JSON.stringify({ type: "alive", watching, recording: this.state?.way !== "by hand" }));
  };

  private frame(frame: Frame): void {
    if (frame.type === "hello") {
      this.linked = true;
      if (frame.stream !== this.stream) this.newest = -1;
      if (!frame.resumed) for (const trace of this.traces.values()) trace.clear();
      this.stream = frame.stream;
      this.sequence = frame.sequence;
    } else if (frame.type === "bye") {
      this.gone = frame.code === "finished" ? null : frame.message;
      this.closed = true;
    } else {
      this.sequence = Math.max(this.sequence, frame.sequence);
      if (frame.type === "state") this.take(frame.state);
      else this.readings(frame.circuit_id, frame.columns, frame.rows, frame.type === "history");
    }
  }

  private readings(circuit: string, columns: string[], rows: (number | null)[][], all: boolean): void {
    const trace = this.trace(circuit);
    if (all) trace.clear();
    const places = COLUMNS.map((names) => names.map((name) => columns.indexOf(name)).filter((at) => at >= 0));
    const time = columns.indexOf("time");
    for (const row of rows) {
      const at = row[time];
      if (typeof at !== "number") continue;
      trace.push(
        at,
        places.map((found) => found.map((place) => row[place]).find((v) => v !== null && v !== undefined) ?? null),
      );
    }
    this.receivedAt = performance.now();
    this.drawn++;
  }
}
