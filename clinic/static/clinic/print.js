// A button that prints the page; a policy of ours refuses handlers in the page itself.
document.querySelector("[data-print]")?.addEventListener("click", () => window.print());
