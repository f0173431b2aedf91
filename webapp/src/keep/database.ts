/** IndexedDB of this device: the queue, photos that wait, readings of challenges, and small facts by name. */

const NAME = "steadfeed";
const VERSION = 1;

let opened: Promise<IDBDatabase> | null = null;

function open(): Promise<IDBDatabase> {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const database = request.result;
      database.createObjectStore("queue", { keyPath: "sequence", autoIncrement: true });
      database.createObjectStore("photos", { keyPath: "id" });
      database.createObjectStore("rows", { keyPath: "id" }).createIndex("challenge", "challenge");
      database.createObjectStore("facts");
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => {
        request.result.close();
        opened = null;
      };
      resolve(request.result);
    };
    request.onerror = () => reject(request.error ?? new Error("no storage"));
  });
  opened.catch(() => (opened = null));
  return opened;
}

export type StoreName = "queue" | "photos" | "rows" | "facts";

/** Do something in one transaction; resolves after it is on the disk. */
export async function inStore<T>(
  name: StoreName,
  mode: IDBTransactionMode,
  work: (store: IDBObjectStore) => IDBRequest<T> | null,
): Promise<T | undefined> {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(name, mode, { durability: "strict" });
    const request = work(transaction.objectStore(name));
    transaction.oncomplete = () => resolve(request?.result);
    transaction.onabort = transaction.onerror = () => reject(transaction.error ?? new Error("not stored"));
  });
}

export async function fact<T>(name: string): Promise<T | undefined> {
  return (await inStore("facts", "readonly", (store) => store.get(name))) as T | undefined;
}

export async function keepFact(name: string, value: unknown): Promise<void> {
  await inStore("facts", "readwrite", (store) => store.put(value, name));
}

/** Ask the browser not to clear this away when it wants room. Tells whether it promised. */
export async function askToKeep(): Promise<boolean> {
  try {
    return (await navigator.storage?.persisted?.()) || (await navigator.storage?.persist?.()) || false;
  } catch {
    return false;
  }
}
