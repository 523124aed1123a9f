// What the desk's pages share: asking the server, and making elements out of text that is never markup.

let session = null;

/** Who this device is, and the token that changes need. */
export async function me() {
  session ??= await (await fetch("/api/me")).json();
  return session;
}

/** Ask the server; {status, body}. It never throws: without a network the status is 0. */
export async function ask(method, path, body) {
  try {
    const headers = {};
    if (method !== "GET") headers["X-CSRF-Token"] = (await me()).csrf;
    if (body !== undefined) headers["Content-Type"] = "application/json";
    const answer = await fetch(path, { method, headers, body: body === undefined ? undefined : JSON.stringify(body) });
    const json = (answer.headers.get("Content-Type") ?? "").startsWith("application/json");
    const told = json ? await answer.json() : null;
    if (answer.status === 401) location.assign("/pair");
    return { status: answer.status, body: told };
  } catch {
    return { status: 0, body: { error: "The server doesn’t answer. Nothing was stored; try again." } };
  }
}

/** An element: h("p", {class: "quiet", onclick}, "text", other). Text stays text. */
export function h(tag, given = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") element.value = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** Words from outside, whatever direction they run in. */
export const said = (text) => h("bdi", {}, text ?? "");

export const byId = (id) => document.getElementById(id);

export const when = (iso) => new Date(iso).toLocaleString([], { dateStyle: "medium", timeStyle: "short", hourCycle: "h23" });

// --- the list of jobs ---------------------------------------------------------------------------

byId("open-job")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const given = Object.fromEntries([...new FormData(event.target)].filter(([, value]) => value.trim()));
  const { status, body } = await ask("POST", "/api/jobs", given);
  if (status === 201) location.assign(`/desk/${body.id}`);
  else byId("open-said").textContent = body.error;
});

// --- devices ------------------------------------------------------------------------------------

async function showCode(wanted) {
  const { status, body } = await ask("POST", "/api/pairing", wanted);
  byId("pairing-said").textContent = status === 201 ? "" : body.error;
  if (status !== 201) return;
  byId("qr").src = body.qr;
  byId("pairing-address").textContent = body.address.split("#")[0];
  byId("pairing-code").textContent = body.code;
  byId("pairing-until").textContent = new Date(body.expires_at).toLocaleTimeString([], { timeStyle: "short", hourCycle: "h23" });
  byId("pairing-shown").hidden = false;
  byId("pairing-shown").focus();
}

byId("pairing")?.addEventListener("submit", (event) => {
  event.preventDefault();
  showCode({ role: new FormData(event.target).get("role") });
});

for (const button of document.querySelectorAll("[data-again]")) {
  button.addEventListener("click", () => showCode({ device: button.dataset.again }));
}

for (const button of document.querySelectorAll("[data-revoke]")) {
  button.addEventListener("click", () => {
    byId("sure-name").textContent = button.dataset.name;
    byId("sure-yes").dataset.device = button.dataset.revoke;
    byId("sure").showModal();
  });
}

byId("sure-no")?.addEventListener("click", () => byId("sure").close());
byId("sure-yes")?.addEventListener("click", async (event) => {
  const { status, body } = await ask("DELETE", `/api/devices/${event.target.dataset.device}`);
  byId("sure").close();
  if (status === 204) location.reload();
  else byId("pairing-said").textContent = body.error;
});
