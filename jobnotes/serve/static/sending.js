// Recordings and photos that lie on this computer, sent in pieces that go on where they stopped.

import { byId, h, me, said } from "/static/desk.js";

const PIECE = 2 * 1024 * 1024;
const TRIES = 4;
const WAIT_MS = 1500;

const hex = (buffer) => [...new Uint8Array(buffer)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

class Refused extends Error {}

/** Let the field send what is chosen there; `sent` is called after each file that has arrived. */
export function sendFrom(input, api, sent) {
  let line = Promise.resolve();
  input.addEventListener("change", () => {
    const files = [...input.files];
    input.value = "";
    const rows = files.map(newRow);
    byId("sending").prepend(...rows.map((row) => row.element));
    // one after the other, also what is chosen while others are on their way
    line = line.then(async () => {
      let arrived = 0;
      for (const [at, file] of files.entries()) {
        if (await sendOne(file, api, rows[at])) {
          arrived += 1;
          sent();
        }
      }
      const missed = files.length - arrived;
      byId("send-said").textContent = `${arrived} of ${files.length} sent${missed ? `; ${missed} could not be taken` : ""}.`;
    });
  });
}

function newRow(file) {
  const told = h("span", { class: "told" }, "waits");
  const bar = h("progress", { max: "1", value: "0", "aria-label": `Sent of ${file.name}` });
  return { element: h("li", {}, h("span", {}, said(file.name)), bar, told), told, bar };
}

async function sendOne(file, api, row) {
  const tell = (text, cls = "told") => {
    row.told.textContent = text;
    row.told.className = cls;
  };
  try {
    tell("is read");
    const sha256 = hex(await crypto.subtle.digest("SHA-256", await file.arrayBuffer()));
    // the same file again is the same upload: what was sent of it is not sent twice
    const address = `${api}/uploads/desk-${sha256.slice(0, 40)}`;
    tell("is sent");
    if (!file.size) throw new Refused("it is empty: nothing was recorded in it");
    const known = await pieces(file, address, (share) => (row.bar.value = share));
    const kind = await kindOf(file);
    const about = {
      name: file.name,
      kind,
      sha256,
      bytes: file.size,
      started_at: new Date(file.lastModified).toISOString(),
      as_a_file: true,
    };
    await change("POST", `${address}/complete`, JSON.stringify(about), { "Content-Type": "application/json" });
    row.bar.value = 1;
    tell(known ? "is in this job already; nothing was added" : "has arrived", "told done");
    return true;
  } catch (error) {
    tell(error instanceof Refused ? `not taken: ${error.message}` : "could not be read, or the server doesn’t answer; choose it again", "told stop");
    row.bar.remove();
    return false;
  }
}

/** Send what isn't there yet; true where all of it was there before. */
async function pieces(file, address, progress) {
  let begun = false;
  for (let tries = 0; ; tries += 1) {
    try {
      const there = await fetch(address, { method: "HEAD" });
      if (!there.ok) throw new Error(String(there.status));
      if (there.headers.get("Upload-Complete") === "?1") return !begun;
      let offset = Number(there.headers.get("Upload-Offset") ?? 0);
      while (offset < file.size) {
        begun = true;
        const piece = file.slice(offset, offset + PIECE);
        await change("PUT", address, piece, { "Upload-Offset": String(offset), "Content-Type": "application/octet-stream" });
        offset += piece.size;
        progress(offset / file.size);
      }
      return false;
    } catch (error) {
      if (error instanceof Refused || tries >= TRIES) throw error;
      await wait(WAIT_MS * (tries + 1)); // the network was away, or another page has sent some of it
    }
  }
}

async function change(method, path, body, headers) {
  const answer = await fetch(path, { method, body, headers: { ...headers, "X-CSRF-Token": (await me()).csrf } });
  if (answer.ok) return;
  if (answer.status === 401) location.assign("/pair");
  const told = await answer.json().catch(() => ({}));
  if (answer.status >= 500 || answer.status === 409) throw new Error(told.error ?? String(answer.status));
  throw new Refused(told.error ?? `the server answered ${answer.status}`);
}

/** What the file claims to be, by its first bytes where its type isn't told; the server looks for itself. */
async function kindOf(file) {
  if (file.type.startsWith("image/")) return "photo";
  if (file.type.startsWith("audio/") || file.type.startsWith("video/")) return "recording";
  const head = new Uint8Array(await file.slice(0, 12).arrayBuffer());
  const text = String.fromCharCode(...head);
  const picture = text.startsWith("\xff\xd8") || text.startsWith("\x89PNG") || text.slice(8, 12) === "WEBP" || /^ftyp(heic|heix|mif1|msf1|hevc)/.test(text.slice(4, 12));
  return picture ? "photo" : "recording";
}
