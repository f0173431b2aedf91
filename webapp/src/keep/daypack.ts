/** What this device knows of the day and of its units without asking anybody. */

import { call } from "../api/http";
import type { DayPack, UnitPage, VisitPage } from "../api/types";
import type { CoefficientEntry } from "../physics/curves";
import { Curves } from "../physics/curves";
import { fact, keepFact } from "./database";

export async function fetchDayPack(progress: (done: number, of: number) => void = () => {}): Promise<DayPack> {
  progress(0, 2);
  const pack = await call("get", "/api/v1/day-pack", { query: { within_days: 7 }, patience: 30_000 });
  progress(1, 2);
  await keepFact("day pack", pack).catch(() => undefined);
  await coefficients();
  progress(2, 2);
  return pack;
}

export async function keptDayPack(): Promise<DayPack | undefined> {
  return fact<DayPack>("day pack").catch(() => undefined);
}

/** A unit's page from the server, else from what this device keeps. */
export async function unitPage(id: string): Promise<{ page: UnitPage; kept: boolean }> {
  try {
    const page = await call("get", "/api/v1/units/{unit}", { path: { unit: id } });
    void keepFact(`unit ${page.unit.id}`, page).catch(() => undefined);
    return { page, kept: false };
  } catch (error) {
    const own = await fact<UnitPage>(`unit ${id}`).catch(() => undefined);
    const page = own ?? (await keptDayPack())?.units.find((u) => u.unit.id === id);
    if (!page) throw error;
    return { page, kept: true };
  }
}

export async function visitPage(id: string): Promise<{ page: VisitPage; kept: boolean }> {
  try {
    const page = await call("get", "/api/v1/visits/{visit_id}", { path: { visit_id: id } });
    void keepFact(`visit ${id}`, page).catch(() => undefined);
    return { page, kept: false };
  } catch (error) {
    const page = await fact<VisitPage>(`visit ${id}`).catch(() => undefined);
    if (!page) throw error;
    return { page, kept: true };
  }
}

let file: Promise<Record<string, CoefficientEntry>> | null = null;

async function coefficients(): Promise<Record<string, CoefficientEntry>> {
  file ??= fetch("/api/v1/refrigerants/coefficients", { credentials: "same-origin" })
    .then((answer) => answer.json() as Promise<{ refrigerants: Record<string, CoefficientEntry> }>)
    .then((all) => all.refrigerants);
  file.catch(() => (file = null));
  return file;
}

export async function curvesOf(refrigerant: string | null | undefined): Promise<Curves | null> {
  if (!refrigerant) return null;
  try {
    const entry = (await coefficients())[refrigerant];
    return entry ? new Curves(entry) : null;
  } catch {
    return null;
  }
}
