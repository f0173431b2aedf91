/** The sentences of the app. Codes and placeholders are the same in every language; a test holds them equal. */

import type { Argument, Sentence } from "../api/types";
import { settings, units } from "../keep/settings.svelte";

export type Code = keyof typeof import("./sentences.json");
type Catalog = Record<string, string>;

const loaders: Record<string, () => Promise<{ default: Catalog }>> = {
  en: () => import("virtual:words/en"),
  es: () => import("virtual:words/es"),
};

let own = $state.raw<Catalog>({});

export async function loadWords(language: string): Promise<void> {
  own = (await (loaders[language] ?? loaders.en!)()).default;
  document.documentElement.lang = language;
}

function shown(argument: Argument): string {
  if (typeof argument === "number") return String(argument);
  if (typeof argument === "string") return own[argument] ?? own[`app.${argument}`] ?? argument;
  if (argument.kind === "share") return coverWords(argument.value);
  return units().text(argument.value, argument.kind);
}

const PARTS: readonly (readonly [number, string])[] = [[0, "0"], [0.25, "¼"], [0.5, "½"], [0.75, "¾"], [1, "1"]];

/** A share of the coil's face: a quarter where it is one, per cent otherwise. */
export function coverWords(share: number): string {
  return PARTS.find(([part]) => Math.abs(share - part) < 0.02)?.[1] ?? `${Math.round(share * 100)} %`;
}

function filled(template: string, args: Record<string, Argument>): string {
  return template.replace(/\{(\w+)(?::[^}]*)?\}/g, (whole, name: string) => {
    const argument = args[name];
    return argument === undefined ? whole : shown(argument);
  });
}

/** A sentence of the app in the language that was chosen. */
export function t(code: Code, args: Record<string, Argument> = {}): string {
  return filled(own[`app.${code}`] ?? code, args);
}

/** A word of the API ("not yet", "regulating") in the language that was chosen. */
export function word(name: string | null | undefined): string {
  if (!name) return "";
  return own[`app.word.${name}`] ?? name;
}

/** A sentence of the guide: from the catalog where this app has it, else as the server wrote it. */
export function say(sentence: Sentence | null | undefined): string {
  if (!sentence) return "";
  const template = own[sentence.code];
  return template ? filled(template, sentence.arguments ?? {}) : sentence.text;
}

/** A time of day, and the day when it is not today. */
export function clock(seconds: number, withSeconds = false): string {
  const date = new Date(seconds * 1000);
  return date.toLocaleTimeString(settings.language, {
    hour: "2-digit",
    minute: "2-digit",
    ...(withSeconds ? { second: "2-digit" } : {}),
  });
}

/** A date, which is never broken at the end of a line. */
export function day(seconds: number): string {
  const said = new Date(seconds * 1000).toLocaleDateString(settings.language, { year: "numeric", month: "short", day: "numeric" });
  return said.replace(/\s/g, "\u00a0");
}

/** A date as the records write it ("2026-02-03"). */
export function dayOf(iso: string): string {
  return day(Date.parse(`${iso}T12:00:00`) / 1000);
}

export function longDay(iso: string): string {
  return new Date(`${iso}T12:00:00`).toLocaleDateString(settings.language, { weekday: "long", day: "numeric", month: "long" });
}
