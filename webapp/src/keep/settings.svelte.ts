/** How the person likes it. Kept on this device first; the server's copy follows when it can be reached. */

import { atmosphereAt, Units, type UnitSystem } from "../units";

export interface Settings {
  units: UnitSystem;
  language: "en" | "es";
  /** [m]; null when nobody said. */
  altitude: number | null;
  left_handed: boolean;
  scheme: "paper" | "dark" | "as the device";
  voice: boolean;
  sound: boolean;
  reduced_motion: boolean;
  battery_saver: boolean;
  page: "letter" | "a4";
  first_run_done: boolean;
}

const PLACE = "steadfeed settings";

function first(): Settings {
  return {
    units: "us",
    language: navigator.language.toLowerCase().startsWith("es") ? "es" : "en",
    altitude: null,
    left_handed: false,
    scheme: "paper",
    voice: false,
    sound: false,
    reduced_motion: false,
    battery_saver: false,
    page: "letter",
    first_run_done: false,
  };
}

function kept(): Partial<Settings> {
  try {
    return JSON.parse(localStorage.getItem(PLACE) ?? "{}") as Partial<Settings>;
  } catch {
    return {};
  }
}

export const settings = $state<Settings>({ ...first(), ...kept() });

/** Who is told of a change; set by the API once there is a session. */
let onChange: (all: Settings) => void = () => {};

export function whenChanged(tell: (all: Settings) => void): void {
  onChange = tell;
}

const dark = matchMedia("(prefers-color-scheme: dark)");
const still = matchMedia("(prefers-reduced-motion: reduce)");

/** Whether things should stand still. */
export function calm(): boolean {
  return settings.reduced_motion || settings.battery_saver || still.matches;
}

export function apply(): void {
  const root = document.documentElement;
  const scheme = settings.scheme === "as the device" ? (dark.matches ? "dark" : "paper") : settings.scheme;
  root.dataset.scheme = scheme;
  root.dataset.hand = settings.left_handed ? "left" : "right";
  if (calm()) root.dataset.still = "";
  else delete root.dataset.still;
  const ground = getComputedStyle(root).getPropertyValue("--ground");
  document.querySelector('meta[name="theme-color"]')?.setAttribute("content", ground.trim() || "#FAF8F2");
}

export function isDark(): boolean {
  return settings.scheme === "dark" || (settings.scheme === "as the device" && dark.matches);
}

export function change(some: Partial<Settings>, tell = true): void {
  Object.assign(settings, some);
  try {
    localStorage.setItem(PLACE, JSON.stringify(settings));
  } catch {
    /* private browsing: it holds until the page is closed */
  }
  apply();
  if (tell) onChange({ ...settings });
}

/** Units of the screen, with the atmosphere of a place [Pa] where it is known. */
export function units(atmosphere?: number): Units {
  return new Units(settings.units, atmosphere ?? atmosphereAt(settings.altitude ?? 0));
}

dark.addEventListener("change", apply);
still.addEventListener("change", apply);
