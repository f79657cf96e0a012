// A button that prints the page; a policy of ours refuses handlers in the page itself.
document.querySelector("[data-print]")?.addEventListener("click", () => window.print());
// on paper nothing is folded, also where the browser's style sheets cannot say so
addEventListener("beforeprint", () => {
  for (const fold of document.querySelectorAll(".fold-narrow")) fold.open = true;
});
