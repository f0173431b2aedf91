/** Voice notes: what is said is recorded on this device and kept like a photo. */

/** Longest note [s]: far below the 2 MB that the server takes. */
export const LONGEST_NOTE = 240;
const KINDS = ["audio/webm;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];

export type VoiceTrouble = "voice.none" | "voice.denied" | "voice.no_microphone";

export const voice = $state({
  /** Since when it records [s]; null while it does not. */
  since: null as number | null,
});

let recorder: MediaRecorder | null = null;
let parts: Blob[] = [];

/** Begin to record. Returns why that did not work, null when it runs. */
export async function record(): Promise<VoiceTrouble | null> {
  // without TLS, and in old browsers, there is no microphone to ask for
  if (!navigator.mediaDevices?.getUserMedia || !("MediaRecorder" in window)) return "voice.none";
  let stream: MediaStream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: true, noiseSuppression: true } });
  } catch (error) {
    const name = (error as DOMException).name;
    return name === "NotAllowedError" || name === "SecurityError" ? "voice.denied" : "voice.no_microphone";
  }
  const kind = KINDS.find((one) => MediaRecorder.isTypeSupported(one));
  parts = [];
  recorder = new MediaRecorder(stream, { audioBitsPerSecond: 32_000, ...(kind ? { mimeType: kind } : {}) });
  recorder.ondataavailable = (event) => parts.push(event.data);
  recorder.start(1000);
  voice.since = Date.now() / 1000;
  return null;
}

/** Stop, and return what was said; null when nothing was. */
export async function stop(): Promise<Blob | null> {
  const running = recorder;
  recorder = null;
  voice.since = null;
  if (!running) return null;
  if (running.state !== "inactive") {
    const ended = new Promise((done) => (running.onstop = done));
    running.stop();
    await ended;
  }
  for (const track of running.stream.getTracks()) track.stop();
  const whole = new Blob(parts, { type: (running.mimeType || "audio/webm").split(";")[0]! });
  parts = [];
  return whole.size ? whole : null;
}
