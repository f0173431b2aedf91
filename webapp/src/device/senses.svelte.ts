/** Voice, tone, vibration and the lamp of the screen. All of it may be missing: the words on the screen stay. */

import { settings } from "../keep/settings.svelte";

export const senses = $state({
  /** A tap has allowed sound. */
  armed: false,
  /** The screen is held awake. */
  awake: false,
  /** Why it is not, in a code of the catalog; null while nobody asked. */
  lampLost: null as null | "lamp.lost" | "lamp.none" | "lamp.saver",
  canSpeak: "speechSynthesis" in window,
  canVibrate: "vibrate" in navigator,
  lastSaid: "",
});

let sound: AudioContext | null = null;

/** Allow sound: browsers want a tap for it. */
export function arm(): void {
  try {
    sound ??= new AudioContext();
    void sound.resume();
    senses.armed = true;
  } catch {
    senses.armed = false;
  }
}

export function speak(text: string, urgent = false): void {
  if (!text) return;
  senses.lastSaid = text;
  if (!settings.voice || !senses.canSpeak) return;
  if (urgent) speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(text);
  said.lang = settings.language === "es" ? "es-US" : "en-US";
  said.rate = urgent ? 1.15 : 1;
  speechSynthesis.speak(said);
}

export function repeatLast(): void {
  if (!senses.canSpeak || !senses.lastSaid) return;
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(senses.lastSaid);
  said.lang = settings.language === "es" ? "es-US" : "en-US";
  speechSynthesis.speak(said);
}

export function hush(): void {
  if (senses.canSpeak) speechSynthesis.cancel();
}

function tone(frequency: number, start: number, length: number, loud: number): void {
  if (!sound) return;
  const source = sound.createOscillator();
  const gain = sound.createGain();
  source.type = "square";
  source.frequency.value = frequency;
  const at = sound.currentTime + start;
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(loud, at + 0.01);
  gain.gain.setValueAtTime(loud, at + length - 0.02);
  gain.gain.linearRampToValueAtTime(0, at + length);
  source.connect(gain).connect(sound.destination);
  source.start(at);
  source.stop(at + length);
}

/** One alarm: tone, vibration and the sentence. */
export function alarm(text: string): void {
  if (settings.sound && senses.armed) for (const at of [0, 0.25, 0.5]) tone(at === 0.25 ? 990 : 1320, at, 0.2, 0.5);
  if (senses.canVibrate) navigator.vibrate([300, 100, 300, 100, 300]);
  speak(text, true);
}

/** A short tick: something was taken. */
export function tick(): void {
  if (settings.sound && senses.armed) tone(660, 0, 0.06, 0.2);
  if (senses.canVibrate) navigator.vibrate(30);
}

let lamp: WakeLockSentinel | null = null;
let wanted = false;

/** Hold the screen awake while a challenge runs. */
export async function holdAwake(want: boolean): Promise<void> {
  wanted = want;
  if (!want) {
    await lamp?.release().catch(() => undefined);
    lamp = null;
    senses.awake = false;
    senses.lampLost = null;
    return;
  }
  if (lamp && !lamp.released) return;
  if (!("wakeLock" in navigator)) {
    senses.lampLost = "lamp.none";
    return;
  }
  try {
    lamp = await navigator.wakeLock.request("screen");
    senses.awake = true;
    senses.lampLost = null;
    lamp.addEventListener("release", () => {
      senses.awake = false;
      if (wanted) senses.lampLost = "lamp.lost";
    });
  } catch {
    senses.awake = false;
    senses.lampLost = "lamp.saver";
  }
}

document.addEventListener("visibilitychange", () => {
  if (wanted && document.visibilityState === "visible") void holdAwake(true);
});
