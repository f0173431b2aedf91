/** Ways into a challenge, shared by the screens that offer them. */

import { call, speech } from "../api/http";
import type { Act, ActCode, ChallengeState } from "../api/types";
import { newId } from "../keep/ids";
import { explain } from "../keep/load.svelte";
import { replace, go } from "../shell/route.svelte";
import { keep } from "../keep/queue.svelte";
import { connection } from "../keep/connection.svelte";
import { t } from "../words/words.svelte";

/** Speed at which a first practice runs: a test of 26 min takes about one and a half. */
export const PRACTICE_SPEED = 20;

/** The scenario of a first practice: a yearly visit where nothing is hidden but whether the valve works. */
const FIRST = "orchard-house";

/** Begin a practice; returns a sentence when that did not work. scenario: none takes the first of the list. */
export async function beginPractice(scenario?: string, speed = PRACTICE_SPEED): Promise<string | null> {
  try {
    const all = scenario ? [] : (await call("get", "/api/v1/practice/scenarios")).scenarios;
    const name = scenario ?? (all.find((s) => s.name === FIRST) ?? all[0])?.name;
    if (!name) return t("practice.none");
    const made = await call("post", "/api/v1/practice", {
      body: { id: newId(), scenario: name, speed, hidden: true, seed: null },
      query: speech(),
      patience: 30_000,
    });
    rememberPractice(made.challenge_id, made.id);
    if (!scenario) await prepare(made.challenge_id, made.id);
    replace("challenge", made.challenge_id);
    return null;
  } catch (error) {
    return explain(error);
  }
}

/**
 * The first practice starts beside a unit that runs: on the bench nobody can be hurt, and the walk round the unit is learnt
 * on the next one. Every answer is written in the challenge's journal like any other.
 */
async function prepare(challenge: string, practice: string): Promise<void> {
  const path = { challenge_id: challenge };
  const act = (name: ActCode, more: Partial<Act> = {}): Promise<ChallengeState> =>
    call("post", "/api/v1/challenges/{challenge_id}/acts", { path, query: speech(), body: { id: newId(), act: name, ...more } as Act });
  let state = await call("get", "/api/v1/challenges/{challenge_id}", { path, query: speech() });
  for (let i = 0; i < 8; i++) {
    if (state.phase === "look and safe") for (const check of state.checks) await act("answer", { check: check.code, answer: "yes" });
    else if (state.phase === "instruments") for (const row of state.ready) await act("answer", { check: row.code, answer: "yes" });
    else if (state.phase === "standing") {
      await call("put", "/api/v1/practice/{practice_id}", { path: { practice_id: practice }, body: { calls: true } as never });
      await act("unit is on");
      return;
    } else return;
    state = await act("go on");
  }
}

/** Which practice a challenge belongs to, on this device. */
export function practiceOf(challenge: string): string | null {
  try {
    return localStorage.getItem(`practice ${challenge}`);
  } catch {
    return null;
  }
}

function rememberPractice(challenge: string, practice: string): void {
  try {
    localStorage.setItem(`practice ${challenge}`, practice);
  } catch {
    /* private browsing: the cover control is gone after a reload */
  }
}

/** Open a visit to a unit. Without signal it is kept on the phone and opened when connected. */
export async function openVisit(unit: string, complaint: string | null): Promise<string> {
  const id = newId();
  const body = { unit_id: unit, complaint, another: true };
  if (connection.reached) {
    try {
      await call("post", "/api/v1/visits", { body: { ...body, id, reason: null, at: null } });
      go("visit", id);
      return id;
    } catch (error) {
      if (connection.reached) throw error;
    }
  }
  await keep("visit", body, null, id);
  go("visit", id);
  return id;
}
