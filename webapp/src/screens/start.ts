/** Begin a challenge on a visit. */

import { call, speech, Unreachable } from "../api/http";
import { newId } from "../keep/ids";
import { explain } from "../keep/load.svelte";
import { keep } from "../keep/queue.svelte";
import { keepFact } from "../keep/database";
import { connection } from "../keep/connection.svelte";
import { go } from "../shell/route.svelte";

/** Returns a sentence when it did not work. By hand it can begin without signal: the verdict comes when connected. */
export async function beginChallenge(visit: string, circuit: string, way: "instruments" | "by hand"): Promise<string | null> {
  const id = newId();
  try {
    let sources: string[] = [];
    if (way === "instruments") {
      const all = (await call("get", "/api/v1/sources")).sources;
      sources = all.filter((s) => s.state !== "stopped" && s.state !== "failed").map((s) => s.id);
    }
    const body = { id, circuit_id: circuit, way, sources, watched: [], mode: "cooling" as const, role: "coil" as const, purpose: "as found" as const, found_running: false };
    if (connection.reached || way === "instruments") {
      try {
        await call("post", "/api/v1/visits/{visit_id}/challenges", { path: { visit_id: visit }, body, query: speech() });
        go("challenge", id);
        return null;
      } catch (error) {
        if (!(error instanceof Unreachable) || way === "instruments") throw error;
      }
    }
    const { id: _, ...rest } = body;
    await keep("challenge", rest, visit, id);
    await keepFact(`local challenge ${id}`, { id, visit, circuit, began: Date.now() / 1000 });
    go("challenge", id);
    return null;
  } catch (error) {
    return explain(error);
  }
}
