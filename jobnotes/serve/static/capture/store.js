/**
 * What the phone keeps: recordings and photos piece by piece, in IndexedDB.
 *
 * A piece is written with the bytes that came before it already counted, in one transaction, so that what is
 * here after a crash is always the beginning of the recording without a hole. Nothing leaves here before the
 * server has confirmed its digest.
 *
 * @typedef {"open" | "closed" | "sent" | "refused"} State  open: being recorded; closed: whole, and to be sent
 * @typedef {object} Item  one recording or photo
 * @property {string} id  made by the phone; also what the upload is called
 * @property {string} job  key of the Job
 * @property {"recording" | "photo"} kind
 * @property {string} type  media type
 * @property {string} name
 * @property {string} startedAt  ISO 8601, by the phone's clock
 * @property {number | null} difference  server's clock less the phone's, in seconds, as known at that moment
 * @property {State} state
 * @property {number} bytes
 * @property {number} pieces
 * @property {number} seconds  how long it is, for a person
 * @property {string} [ended]  why a recording ended, if not by hand
 * @property {boolean} [told]  a person has been told that it was cut off
 * @property {string} [sha256]
 * @property {string} [file]  what the server calls it
 * @property {string} [sentAt]
 * @property {string} [problem]  why the server would not have it
 *
 * @typedef {object} Job
 * @property {string} key  made by the phone
 * @property {string | null} id  the server's; null until it knows of the job
 * @property {string} number
 * @property {string} registration
 * @property {string} openedAt
 *
 * @typedef {object} Piece
 * @property {string} item
 * @property {number} seq
 * @property {number} offset  bytes before it
 * @property {ArrayBuffer} bytes
 */

const DATABASE = "jobnotes";
const KEPT_DAYS = 14; // how long the entry of what was sent stays in sight; its bytes are gone by then

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const result = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** @param {IDBTransaction} transaction @returns {Promise<void>} settled once it is on the disk, or not at all */
const done = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error ?? new DOMException("aborted", "AbortError"));
  });

/** @param {string} id */
const piecesOf = (id) => IDBKeyRange.bound([id, 0], [id, Infinity]);

/** @returns {string} */
export const newId = () => crypto.randomUUID();

export class Store {
  /** @param {IDBDatabase} database */
  constructor(database) {
    this.database = database;
  }

  /** @returns {Promise<Store>} */
  static async open() {
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => {
      const database = request.result;
      database.createObjectStore("jobs", { keyPath: "key" });
      const items = database.createObjectStore("items", { keyPath: "id" });
      items.createIndex("state", "state");
      items.createIndex("job", "job");
      database.createObjectStore("pieces", { keyPath: ["item", "seq"] });
      database.createObjectStore("settings");
    };
    const database = await result(request);
    database.onversionchange = () => database.close();
    return new Store(database);
  }

  /**
   * @param {string[]} names
   * @returns {IDBTransaction} one that is reported as done only when it is on the disk
   */
  #write(...names) {
    return this.database.transaction(names, "readwrite", { durability: "strict" });
  }

  /** @param {string} name */
  #read(name) {
    return this.database.transaction(name).objectStore(name);
  }

  // --- recordings and photos ----------------------------------------------------------------------

  /** @param {Item} item @returns {Promise<void>} */
  async begin(item) {
    const transaction = this.#write("items");
    transaction.objectStore("items").put(item);
    await done(transaction);
  }

  /**
   * Add a piece at the end.
   * @param {string} id @param {ArrayBuffer} bytes @param {number} seconds length of the recording up to here
   */
  async append(id, bytes, seconds) {
    const transaction = this.#write("items", "pieces");
    const items = transaction.objectStore("items");
    items.get(id).onsuccess = (event) => {
      const item = /** @type {IDBRequest<Item>} */ (event.target).result;
      transaction.objectStore("pieces").put({ item: id, seq: item.pieces, offset: item.bytes, bytes });
      items.put({ ...item, pieces: item.pieces + 1, bytes: item.bytes + bytes.byteLength, seconds });
    };
    await done(transaction);
  }

  /** @param {Item} item @param {ArrayBuffer} bytes  a photo: whole, or not there */
  async addWhole(item, bytes) {
    const transaction = this.#write("items", "pieces");
    transaction.objectStore("pieces").put({ item: item.id, seq: 0, offset: 0, bytes });
    transaction.objectStore("items").put({ ...item, pieces: 1, bytes: bytes.byteLength, state: "closed" });
    await done(transaction);
  }

  /** @param {string} id @param {Partial<Item>} changes @returns {Promise<Item | undefined>} */
  async change(id, changes) {
    const transaction = this.#write("items");
    const items = transaction.objectStore("items");
    /** @type {Item | undefined} */
    let changed;
    items.get(id).onsuccess = (event) => {
      const item = /** @type {IDBRequest<Item | undefined>} */ (event.target).result;
      if (item) items.put((changed = { ...item, ...changes }));
    };
    await done(transaction);
    return changed;
  }

  /** @param {string} id @param {string} [ended] */
  async close(id, ended) {
    const item = await this.change(id, ended ? { state: "closed", ended } : { state: "closed" });
    if (item && item.bytes === 0) await this.#forget(id); // nothing was recorded
  }

  /**
   * The server has it, and its digest is the same: the bytes may go.
   * @param {string} id @param {string} sha256 @param {string} file
   */
  async confirmed(id, sha256, file) {
    const transaction = this.#write("items", "pieces");
    const items = transaction.objectStore("items");
    items.get(id).onsuccess = (event) => {
      const item = /** @type {IDBRequest<Item>} */ (event.target).result;
      items.put({ ...item, state: "sent", sha256, file, sentAt: new Date().toISOString() });
      transaction.objectStore("pieces").delete(piecesOf(id));
    };
    await done(transaction);
  }

  /** @param {string} id */
  async #forget(id) {
    const transaction = this.#write("items", "pieces");
    transaction.objectStore("items").delete(id);
    transaction.objectStore("pieces").delete(piecesOf(id));
    await done(transaction);
  }

  /** @param {State} state @returns {Promise<Item[]>} oldest first */
  async inState(state) {
    return byTime(await result(this.#read("items").index("state").getAll(state)));
  }

  /** @param {string} job @returns {Promise<Item[]>} oldest first */
  async ofJob(job) {
    return byTime(await result(this.#read("items").index("job").getAll(job)));
  }

  /** @param {string} id @param {number} offset @param {number} most @returns {Promise<ArrayBuffer[]>} */
  async bytesFrom(id, offset, most) {
    /** @type {ArrayBuffer[]} */
    const found = [];
    let size = 0;
    const cursor = this.#read("pieces").openCursor(piecesOf(id));
    await new Promise((resolve, reject) => {
      cursor.onerror = () => reject(cursor.error);
      cursor.onsuccess = () => {
        const at = cursor.result;
        if (!at || size >= most) return resolve(undefined);
        const piece = /** @type {Piece} */ (at.value);
        const skip = offset - piece.offset;
        if (skip < piece.bytes.byteLength) {
          const rest = piece.bytes.slice(Math.max(0, skip), Math.max(0, skip) + most - size);
          found.push(rest);
          size += rest.byteLength;
        }
        at.continue();
      };
    });
    return found;
  }

  /** @param {Item} item @returns {Promise<Blob>} all of it */
  async whole(item) {
    return new Blob(await this.bytesFrom(item.id, 0, Infinity), { type: item.type });
  }

  /** Entries of what went long ago. */
  async prune() {
    const oldest = new Date(Date.now() - KEPT_DAYS * 86_400_000).toISOString();
    for (const item of await this.inState("sent")) {
      if ((item.sentAt ?? "") < oldest) await this.#forget(item.id);
    }
  }

  // --- jobs and settings --------------------------------------------------------------------------

  /** @returns {Promise<Job[]>} latest first */
  async jobs() {
    const all = /** @type {Job[]} */ (await result(this.#read("jobs").getAll()));
    return all.sort((a, b) => (a.openedAt < b.openedAt ? 1 : -1));
  }

  /** @param {Job} job */
  async putJob(job) {
    const transaction = this.#write("jobs");
    transaction.objectStore("jobs").put(job);
    await done(transaction);
  }

  /** @param {string} name @returns {Promise<any>} */
  async setting(name) {
    return result(this.#read("settings").get(name));
  }

  /** @param {string} name @param {unknown} value */
  async set(name, value) {
    const transaction = this.#write("settings");
    transaction.objectStore("settings").put(value, name);
    await done(transaction);
  }
}

/** @param {Item[]} items */
const byTime = (items) => items.sort((a, b) => (a.startedAt < b.startedAt ? -1 : 1));
