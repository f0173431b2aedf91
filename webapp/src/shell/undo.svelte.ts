/** The last thing that was done, for as long as it can be taken back: at least ten seconds. */

interface Offer {
  what: string;
  until: number;
  act: () => void | Promise<void>;
}

export const undo = $state<{ offer: Offer | null; now: number }>({ offer: null, now: 0 });
let timer: ReturnType<typeof setInterval> | null = null;

export const UNDO_SECONDS = 12;

export function offerUndo(what: string, act: () => void | Promise<void>, seconds = UNDO_SECONDS): void {
  undo.now = Date.now() / 1000;
  undo.offer = { what, act, until: undo.now + seconds };
  timer ??= setInterval(() => {
    undo.now = Date.now() / 1000;
    if (!undo.offer || undo.offer.until <= undo.now) dropUndo();
  }, 500);
}

export function dropUndo(): void {
  undo.offer = null;
  if (timer) clearInterval(timer);
  timer = null;
}
