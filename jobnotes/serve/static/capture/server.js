/** The server's API, as far as this page asks it. */

const SHORT_MS = 10_000;
const LONG_MS = 60_000;

/** No answer: no network, or no server. To be tried again. */
export class Unreachable extends Error {}

/** The server answered, and said no. */
export class Refused extends Error {
  /** @param {number} status @param {string} message @param {number | null} offset where an upload is to go on */
  constructor(status, message, offset = null) {
    super(message);
    this.status = status;
    this.offset = offset;
  }
}

export class Server {
  constructor() {
    /** @type {string | null} */
    this.csrf = null;
  }

  /**
   * @param {string} path @param {RequestInit} [init] @param {number} [most] milliseconds
   * @returns {Promise<Response>} of status 2xx or 304
   */
  async #ask(path, init = {}, most = SHORT_MS) {
    let answer;
    try {
      answer = await fetch(path, {
        cache: "no-store",
        credentials: "same-origin",
        redirect: "error",
        ...init,
        signal: AbortSignal.timeout(most),
      });
    } catch (error) {
      throw new Unreachable(String(error));
    }
    if (answer.ok || answer.status === 304) return answer;
    const said = await answer.json().catch(() => ({}));
    const message = typeof said.error === "string" ? said.error : `the server answered ${answer.status}`;
    // a server that is only just coming up, or stumbles, is asked again
    if (answer.status >= 500 && answer.status !== 507) throw new Unreachable(message);
    throw new Refused(answer.status, message, said.offset ?? null);
  }

  /** @param {string} path @param {RequestInit} init @param {number} [most] @returns {Promise<Response>} */
  async #change(path, init, most) {
    for (let again = false; ; again = true) {
      if (!this.csrf) await this.me();
      try {
        const headers = { ...init.headers, "X-CSRF-Token": this.csrf ?? "" };
        return await this.#ask(path, { ...init, headers }, most);
      } catch (error) {
        if (!(error instanceof Refused) || error.status !== 403 || again) throw error;
        this.csrf = null; // the session is a new one
      }
    }
  }

  /** @param {string} path @param {unknown} body */
  async #post(path, body) {
    const init = { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
    return (await this.#change(path, init, LONG_MS)).json();
  }

  /** @returns {Promise<{device: string, name: string, role: string, csrf: string}>} */
  async me() {
    const me = await (await this.#ask("/api/me")).json();
    this.csrf = me.csrf;
    return me;
  }

  /** @returns {Promise<number>} milliseconds since 1970 by the server's clock */
  async time() {
    const { now } = await (await this.#ask("/api/time")).json();
    return typeof now === "number" ? now * 1000 : Date.parse(now);
  }

  /** @returns {Promise<any[]>} */
  async jobs() {
    const said = await (await this.#ask("/api/jobs")).json();
    return Array.isArray(said) ? said : said.jobs;
  }

  /** @param {import("./store.js").Job} job @returns {Promise<string>} its id */
  async openJob(job) {
    const about = Object.fromEntries(
      Object.entries({ number: job.number, registration: job.registration }).filter(([, value]) => value),
    );
    // the phone's own key makes a request that is sent twice open one job
    return (await this.#post("/api/jobs", { ...about, key: job.key })).id;
  }

  /**
   * @param {string} job @param {string | null} seen  the ETag of what is known
   * @returns {Promise<{state: any, tag: string | null} | null>} null: nothing is new
   */
  async state(job, seen) {
    /** @type {Record<string, string>} */
    const headers = seen ? { "If-None-Match": seen } : {};
    const answer = await this.#ask(`/api/jobs/${job}/state`, { headers });
    return answer.status === 304 ? null : { state: await answer.json(), tag: answer.headers.get("ETag") };
  }

  /** @param {string} job @param {string} upload @returns {Promise<number>} how many bytes have arrived */
  async offset(job, upload) {
    const answer = await this.#ask(`/api/jobs/${job}/uploads/${upload}`, { method: "HEAD" });
    return Number(answer.headers.get("Upload-Offset") ?? 0);
  }

  /** @param {string} job @param {string} upload @param {number} offset @param {Blob} piece */
  async put(job, upload, offset, piece) {
    const headers = { "Upload-Offset": String(offset), "Content-Type": "application/octet-stream" };
    await this.#change(`/api/jobs/${job}/uploads/${upload}`, { method: "PUT", headers, body: piece }, LONG_MS);
  }

  /**
   * Sound of a recording that is still being made, from sample `at` on.
   * @param {string} job @param {string} take @param {number} at @param {Blob} sound
   * @returns {Promise<{said: string[], saying?: string}>} what was heard of it so far
   */
  async live(job, take, at, sound) {
    /** @type {any} so that the recording's own pieces go first */
    const init = { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: sound, priority: "low" };
    return (await this.#change(`/api/jobs/${job}/live/${take}?at=${at}`, init)).json();
  }

  /**
   * @param {string} job @param {string} upload @param {object} about
   * @returns {Promise<{sha256: string, note?: string, photo?: string}>}
   */
  async complete(job, upload, about) {
    return this.#post(`/api/jobs/${job}/uploads/${upload}/complete`, about);
  }
}
