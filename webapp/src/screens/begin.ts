/** Ways into a challenge, shared by the screens that offer them. */

import { call, speech } from "../api/http";
import { newId } from "../keep/ids";
import { explain } from "../keep/load.svelte";
import { replace, go } from "../shell/route.svelte";
import { keep } from "../keep/queue.svelte";
import { connection } from "../keep/connection.svelte";

/** Speed at which a first practice runs: a test of 26 min takes about one and a half. */
export const PRACTICE_SPEED = 20;

/** Begin a practice; returns a sentence when that did not work. scenario: none takes the first of the list. */
export async function beginPractice(scenario?: string, speed = PRACTICE_SPEED): Promise<string | null> {
  try {
    const name = scenario ?? (await call("get", "/api/v1/practice/scenarios")).scenarios[0]?.name;
    if (!name) return null;
    const made = await call("post", "/api/v1/practice", {
      body: { id: newId(), scenario: name, speed, hidden: true, seed: null },
      query: speech(),
      patience: 30_000,
    });
    rememberPractice(made.challenge_id, made.id);
    replace("challenge", made.challenge_id);
    return null;
  } catch (error) {
    return explain(error);
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
