// Pairs this device: the code comes from the address, behind its "#", or is typed.

const form = document.getElementById("pair");
const said = document.getElementById("said");
const button = form.querySelector("button");

const given = decodeURIComponent(location.hash.slice(1));
if (given) {
  form.code.value = given;
  // the code is good once, but it need not stay in the history either
  history.replaceState(null, "", location.pathname);
  form.name.focus();
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  button.disabled = true;
  said.textContent = "";
  try {
    const answer = await fetch("/api/pair", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ code: form.code.value, name: form.elements.name.value }),
    });
    if (answer.ok) {
      location.replace("/");
      return;
    }
    said.textContent = (await answer.json()).error;
  } catch {
    said.textContent = "The server does not answer. Is this device on the workshop's network?";
  }
  button.disabled = false;
});
