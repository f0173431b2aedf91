/** Something that is fetched: waiting, there, or a sentence that says why not. */

import { Refused, Unreachable } from "../api/http";
import { t } from "../words/words.svelte";

export class Loaded<T> {
  value = $state.raw<T | null>(null);
  waiting = $state(true);
  trouble = $state<string | null>(null);
  offline = $state(false);

  constructor(private readonly work: () => Promise<T>) {}

  async run(): Promise<void> {
    this.waiting = this.value === null;
    try {
      this.value = await this.work();
      this.trouble = null;
      this.offline = false;
    } catch (error) {
      this.offline = error instanceof Unreachable;
      this.trouble = explain(error);
    } finally {
      this.waiting = false;
    }
  }
}

export function explain(error: unknown): string {
  if (error instanceof Unreachable) return t("no_signal");
  if (error instanceof Refused) return error.status === 403 && error.code === "read only" ? t("read_only") : error.message;
  return t("went_wrong");
}
