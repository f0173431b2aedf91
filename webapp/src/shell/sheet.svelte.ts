/** The sheet that says where a limit comes from, or asks one thing. */

export interface SheetContent {
  title: string;
  lines: string[];
  source?: string | undefined;
}

export const sheet = $state<{ content: SheetContent | null }>({ content: null });

export function openSheet(content: SheetContent): void {
  sheet.content = content;
}

/** Open the source of a threshold by its key, or of a limit that somebody stated. */
export async function openSource(title: string, key: string | null | undefined, said = ""): Promise<void> {
  const { criterion } = await import("../keep/criteria");
  const found = key ? await criterion(key) : null;
  const { units } = await import("../keep/settings.svelte");
  const lines = found ? [`${found.text}: ${units().text(found.value, found.kind || "ratio")}`] : [];
  openSheet({ title, lines: [...(said ? [said] : []), ...lines], source: found?.source });
}
