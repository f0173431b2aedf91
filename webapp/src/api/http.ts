/** Calls of the API, typed by its OpenAPI document. Nothing here ever asks another server. */

import { settings } from "../keep/settings.svelte";
import type { paths } from "./schema";

/** The server answered, and the answer is no. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    message: string,
    readonly where: string | null = null,
  ) {
    super(message);
  }
}

/** The server did not answer. */
export class Unreachable extends Error {}

type Method = "get" | "post" | "put" | "patch" | "delete";
type PathOf<M extends Method> = { [P in keyof paths]: paths[P] extends Record<M, object> ? P : never }[keyof paths];
type Operation<P extends keyof paths, M extends Method> = M extends keyof paths[P] ? NonNullable<paths[P][M]> : never;
type Answered<O> = O extends { responses: infer R }
  ? R extends Record<200, { content: { "application/json": infer B } }>
    ? B
    : R extends Record<201, { content: { "application/json": infer B } }>
      ? B
      : undefined
  : never;
type Body<O> = O extends { requestBody: { content: { "application/json": infer B } } } ? B : undefined;

export interface Options<B> {
  path?: Record<string, string>;
  query?: Record<string, string | number | boolean | null | undefined>;
  body?: B;
  /** Give up after [ms]. */
  patience?: number;
}

const PATIENCE = 12_000;
let heard: (reached: boolean) => void = () => {};

/** Who is told, after each call, whether the server was reached. */
export function whenHeard(tell: (reached: boolean) => void): void {
  heard = tell;
}

export function address(path: string, options: Pick<Options<unknown>, "path" | "query">): string {
  const filled = path.replace(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(options.path?.[name] ?? ""));
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(options.query ?? {}))
    if (value !== null && value !== undefined && value !== "") query.set(name, String(value));
  return query.size ? `${filled}?${query}` : filled;
}

/** How the person wants to be spoken to, for the texts inside of answers. */
export function speech(): { language: string; units: string } {
  return { language: settings.language, units: settings.units };
}

export async function send(url: string, init: RequestInit, patience = PATIENCE): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(url, { ...init, credentials: "same-origin", signal: AbortSignal.timeout(patience) });
  } catch (error) {
    heard(false);
    throw new Unreachable(String(error));
  }
  // an answer from the service worker's cache is no sign of life of the server
  heard(!answer.headers.has("x-steadfeed-kept"));
  if (answer.ok) return answer;
  let problem: { code?: string; message?: string; where?: string | null } = {};
  try {
    problem = ((await answer.json()) as { error?: typeof problem }).error ?? {};
  } catch {
    /* no sentence came with it */
  }
  if (answer.status === 502 || answer.status === 504) throw new Unreachable(String(answer.status));
  throw new Refused(answer.status, problem.code ?? "", problem.message ?? `${answer.status}`, problem.where ?? null);
}

export async function call<M extends Method, P extends PathOf<M> & string>(
  method: M,
  path: P,
  options: Options<Body<Operation<P, M>>> = {},
): Promise<Answered<Operation<P, M>>> {
  const init: RequestInit = { method: method.toUpperCase() };
  if (options.body !== undefined) {
    init.body = JSON.stringify(options.body);
    init.headers = { "content-type": "application/json" };
  }
  const answer = await send(address(path, options), init, options.patience);
  if (answer.status === 204) return undefined as Answered<Operation<P, M>>;
  return (await answer.json()) as Answered<Operation<P, M>>;
}
