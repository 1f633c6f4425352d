"use strict";
// A bar while files are on their way; without this script the form is sent as any other.
{
  const form = document.getElementById("upload");
  const box = document.getElementById("on-its-way");
  const told = document.getElementById("told");
  const progress = document.getElementById("progress");
  const say = (text) => { told.textContent = text; };
  const again = (text) => {
    for (const button of form.querySelectorAll("button")) button.disabled = false;
    progress.hidden = true;
    say(text);
  };
  form?.addEventListener("submit", (event) => {
    event.preventDefault();
    const sending = new XMLHttpRequest();
    sending.upload.addEventListener("progress", (part) => {
      if (part.lengthComputable) progress.value = Math.round(100 * part.loaded / part.total);
    });
    sending.upload.addEventListener("load", () => say(form.dataset.sent));
    sending.addEventListener("load", () => {
      const answer = new DOMParser().parseFromString(sending.responseText, "text/html");
      if (sending.status === 200) { location.assign(sending.responseURL); return; }
      const problem = answer.querySelector(".problem") ?? answer.querySelector("main p");
      again(problem?.textContent ?? form.dataset.cut);
    });
    for (const end of ["error", "abort", "timeout"]) sending.addEventListener(end, () => again(form.dataset.cut));
    sending.open("POST", form.action);
    sending.send(new FormData(form));
    for (const button of form.querySelectorAll("button")) button.disabled = true;
    box.hidden = false;
    progress.hidden = false;
    progress.value = 0;
    say(form.dataset.sending);
  });
}
