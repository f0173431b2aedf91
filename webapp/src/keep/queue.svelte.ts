/**
 * What was done on this device and is not yet safe on the server. Everything goes into IndexedDB before anything else;
 * it is forgotten only after the server has acknowledged it. The server knows each item by its identity, so that an item
 * sent twice is there once.
 */

import { call, Refused, send, Unreachable, address } from "../api/http";
import type { QueueItem } from "../api/types";
import { connection } from "./connection.svelte";
import { askToKeep, fact, inStore, keepFact } from "./database";
import { newId } from "./ids";

export type Kind = QueueItem["kind"];
type Kept = Omit<QueueItem, "sequence"> & { sequence?: number };

export interface Photo {
  id: string;
  owner: string;
  owner_id: string;
  kind: "photo" | "voice note";
  taken_at: number;
  text: string | null;
  blob: Blob;
}

export interface Trouble {
  id: string;
  kind: string;
  message: string;
}

const MOST_AT_ONCE = 100;

export const queue = $state({
  /** Items and photos that are only on this device. */
  waiting: 0,
  photos: 0,
  /** When something was last taken over by the server [s]. */
  sentAt: null as number | null,
  draining: false,
  /** The browser promised to keep what is stored here. */
  persistent: false,
  /** This device cannot store anything: private browsing, or no room. */
  broken: false,
  refused: [] as Trouble[],
});

let draining: Promise<void> | null = null;

async function count(): Promise<void> {
  try {
    queue.waiting = (await inStore("queue", "readonly", (s) => s.count())) ?? 0;
    queue.photos = (await inStore("photos", "readonly", (s) => s.count())) ?? 0;
  } catch {
    queue.broken = true;
  }
}

export async function openQueue(): Promise<void> {
  await count();
  queue.refused = (await fact<Trouble[]>("refused").catch(() => undefined)) ?? [];
  queue.sentAt ??= (await fact<number>("sent").catch(() => undefined)) ?? null;
  queue.persistent = await askToKeep();
  void drain();
}

/** Write something down on this device; it is on the disk when this resolves. The server gets it as soon as it can. */
export async function keep(kind: Kind, body: Record<string, unknown>, of: string | null = null, id = newId()): Promise<string> {
  const item: Kept = { id, kind, of, at: Date.now() / 1000, body };
  await inStore("queue", "readwrite", (store) => store.add(item));
  queue.waiting++;
  void drain();
  return id;
}

/** Until when a photo or voice note is not sent yet [ms], by its identity: it can get its words, or be thrown away. */
const held = new Map<string, number>();

/** hold: so long it stays on this device [s]; a reload ends that, and nothing is lost by it. */
export async function keepPhoto(photo: Photo, hold = 0): Promise<void> {
  if (hold) {
    held.set(photo.id, Date.now() + hold * 1000);
    setTimeout(() => letGo(photo.id), hold * 1000);
  }
  await inStore("photos", "readwrite", (store) => store.put(photo));
  queue.photos++;
  if (!hold) void drain();
}

function letGo(id: string): void {
  if (held.delete(id)) void drain();
}

/** Give a photo that is still held its words, and send it. */
export async function captionPhoto(id: string, text: string): Promise<void> {
  const photo = (await inStore("photos", "readonly", (store) => store.get(id))) as Photo | undefined;
  if (photo && text.trim()) await inStore("photos", "readwrite", (store) => store.put({ ...photo, text: text.trim().slice(0, 500) }));
  letGo(id);
}

/** Throw a photo or voice note away that is still held; false when it was sent already. */
export async function dropPhoto(id: string): Promise<boolean> {
  if (!held.delete(id)) return false;
  await inStore("photos", "readwrite", (store) => store.delete(id));
  await count();
  return true;
}

async function identity(): Promise<string> {
  const known = await fact<string>("queue");
  if (known) return known;
  const made = newId();
  await keepFact("queue", made);
  return made;
}

/** Send what waits, in order. Called at every sign of life of the server; one at a time. */
export function drain(): Promise<void> {
  draining ??= sendAll().finally(() => (draining = null));
  return draining;
}

async function sendAll(): Promise<void> {
  if (connection.session === "none") return;
  queue.draining = true;
  try {
    const name = await identity();
    for (;;) {
      const items = ((await inStore("queue", "readonly", (s) => s.getAll(null, MOST_AT_ONCE))) ?? []) as QueueItem[];
      if (!items.length) break;
      const answer = await call("post", "/api/v1/queue", { body: { queue: name, items }, patience: 30_000 });
      for (const receipt of answer.receipts)
        if (receipt.state === "refused")
          queue.refused.push({
            id: receipt.id,
            kind: items.find((i) => i.sequence === receipt.sequence)?.kind ?? "",
            message: receipt.error?.message ?? "",
          });
      const settled = answer.receipts.map((r) => r.sequence).filter((n) => n <= answer.acknowledged);
      if (!settled.length) break;
      if (answer.receipts.some((r) => r.state === "refused")) await keepFact("refused", $state.snapshot(queue.refused));
      const last = Math.max(...settled);
      await inStore("queue", "readwrite", (store) => {
        store.delete(IDBKeyRange.upperBound(last));
        return null;
      });
      await sent();
    }
    await sendPhotos();
  } catch (error) {
    if (!(error instanceof Unreachable) && !(error instanceof Refused)) queue.broken = true;
  } finally {
    queue.draining = false;
    await count();
  }
}

async function sendPhotos(): Promise<void> {
  for (;;) {
    const ids = ((await inStore("photos", "readonly", (s) => s.getAllKeys())) ?? []) as string[];
    const next = ids.find((one) => !((held.get(one) ?? 0) > Date.now()));
    const photo = next && ((await inStore("photos", "readonly", (s) => s.get(next))) as Photo | undefined);
    if (!photo) return;
    const { id, owner, owner_id, kind, taken_at, text, blob } = photo;
    try {
      await send(
        address("/api/v1/attachments/{id}", { path: { id }, query: { owner, owner_id, kind, taken_at, text } }),
        { method: "PUT", body: blob, headers: { "content-type": blob.type || "application/octet-stream" } },
        60_000,
      );
    } catch (error) {
      if (!(error instanceof Refused) || error.status >= 500 || error.status === 401) throw error;
      queue.refused.push({ id, kind, message: error.message });
      await keepFact("refused", $state.snapshot(queue.refused));
    }
    await inStore("photos", "readwrite", (store) => store.delete(id));
    await sent();
  }
}

async function sent(): Promise<void> {
  queue.sentAt = Date.now() / 1000;
  await keepFact("sent", queue.sentAt);
  await count();
}

export async function forgetRefused(): Promise<void> {
  queue.refused = [];
  await keepFact("refused", []);
}
