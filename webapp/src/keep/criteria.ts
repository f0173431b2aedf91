/** Thresholds of the method with their sources; kept by the service worker. */

import { call } from "../api/http";
import type { Criterion } from "../api/types";

let all: Promise<Criterion[]> | null = null;

export function criteria(): Promise<Criterion[]> {
  all ??= call("get", "/api/v1/criteria").then((answer) => answer.criteria);
  all.catch(() => (all = null));
  return all;
}

export async function criterion(key: string): Promise<Criterion | null> {
  return (await criteria().catch(() => [])).find((one) => one.key === key) ?? null;
}
