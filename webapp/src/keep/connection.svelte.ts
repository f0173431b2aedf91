/** Whether the server can be reached, and whether it knows this device. */

import { call, Refused, Unreachable, whenHeard } from "../api/http";
import type { About, Session } from "../api/types";

export const connection = $state({
  reached: true,
  /** "none": this device has to be paired; "kept": known from before, the server is silent. */
  session: "unknown" as "unknown" | "open" | "kept" | "none",
  role: "technician" as Session["role"],
  person: null as string | null,
  device: "",
  /** Since when it is silent [s]. */
  silentSince: null as number | null,
  serverName: "",
  appVersion: "",
  methodVersion: "",
});

const EVERY = 4000;
let waiters: (() => void)[] = [];
let timer: ReturnType<typeof setTimeout> | null = null;

/** Do something each time the server comes back. */
export function whenBack(work: () => void): () => void {
  waiters.push(work);
  return () => (waiters = waiters.filter((w) => w !== work));
}

whenHeard((reached) => {
  if (reached === connection.reached) return;
  connection.reached = reached;
  connection.silentSince = reached ? null : Date.now() / 1000;
  if (reached) for (const work of waiters) work();
  else ask();
});

function ask(): void {
  if (timer) return;
  timer = setTimeout(() => {
    timer = null;
    void look().then(() => {
      if (!connection.reached) ask();
    });
  }, EVERY);
}

/** Ask who we are. Never throws. */
export async function look(): Promise<void> {
  try {
    const session = await call("get", "/api/v1/session", { patience: 5000 });
    connection.session = "open";
    connection.role = session.role;
    connection.person = session.person;
    connection.device = session.device;
    remember(true);
  } catch (error) {
    if (error instanceof Refused && error.status === 401) {
      connection.session = "none";
      remember(false);
    } else if (error instanceof Unreachable && connection.session === "unknown") {
      connection.session = localStorage.getItem("steadfeed session") ? "kept" : "none";
    }
  }
}

function remember(known: boolean): void {
  try {
    if (known) localStorage.setItem("steadfeed session", "1");
    else localStorage.removeItem("steadfeed session");
  } catch {
    /* private browsing */
  }
}

export async function lookAround(): Promise<About | null> {
  try {
    const about = await call("get", "/api/v1/about");
    connection.serverName = about.store;
    connection.appVersion = about.version;
    connection.methodVersion = about.method_version;
    return about;
  } catch {
    return null;
  }
}

addEventListener("online", () => void look());
