/** What is saved where, in words: the right end of the head line. */

import { connection } from "../keep/connection.svelte";
import { queue } from "../keep/queue.svelte";
import { clock, t } from "../words/words.svelte";

export function savedWords(): string {
  if (queue.broken) return t("saved.broken");
  const waiting = queue.waiting + queue.photos;
  if (waiting) return t("saved.phone", { count: waiting });
  if (!connection.reached) return t("saved.no_signal");
  if (queue.sentAt) return t("saved.sent", { time: clock(queue.sentAt) });
  return t("saved.nothing");
}
