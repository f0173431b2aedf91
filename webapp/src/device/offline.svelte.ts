/** Whether the app really works without signal here: the service worker is asked, not believed. */

type Why = "offline.checking" | "offline.insecure" | "offline.unsupported" | "offline.untrusted" | "offline.ok";

export const offline = $state<{ works: boolean; why: Why }>({ works: false, why: "offline.checking" });

export async function register(): Promise<void> {
  if (!window.isSecureContext) return settle("offline.insecure");
  if (!("serviceWorker" in navigator)) return settle("offline.unsupported");
  try {
    await navigator.serviceWorker.register("/service-worker.js", { scope: "/" });
    const ready = await Promise.race([
      navigator.serviceWorker.ready,
      new Promise<null>((resolve) => setTimeout(() => resolve(null), 20_000)),
    ]);
    if (!ready?.active) return settle("offline.untrusted");
    settle((await caches.match("/")) ? "offline.ok" : "offline.untrusted");
  } catch {
    // a certificate that is not trusted ends here, although the page itself opened after a warning
    settle("offline.untrusted");
  }
}

function settle(why: Why): void {
  offline.works = why === "offline.ok";
  offline.why = why;
}
