"use strict";
// Asks every few seconds whether a recording was looked at; without this script there is a link for it.
{
  const state = document.getElementById("state");
  let left = 100;
  const ask = async () => {
    try {
      const answer = await fetch(state.dataset.address, { credentials: "same-origin", cache: "no-store" });
      if (answer.ok && (await answer.json()).state !== state.dataset.state) { location.reload(); return; }
    } catch { /* the line may come back */ }
    left -= 1;
    if (left > 0) setTimeout(ask, 3000);
  };
  setTimeout(ask, 1500);
}
