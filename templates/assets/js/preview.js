// What was opened in the preview stays open when a newer answer replaces it.
let opened = [];
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.target.id === "preview-body") {
    opened = [...event.detail.target.querySelectorAll("[id]:has(> details[open])")].map((one) => one.id);
  }
});
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id === "preview-body") {
    for (const id of opened) {
      const details = document.getElementById(id)?.querySelector("details");
      if (details) {
        details.open = true;
      }
    }
  }
});
