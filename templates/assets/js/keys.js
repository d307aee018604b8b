// "/" moves to the search field, Escape closes an open menu; a refusal is scrolled to.
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select, [contenteditable]");
  if (event.key === "/" && !typing && !event.ctrlKey && !event.metaKey && !event.altKey) {
    const field = document.getElementById("find");
    if (field) {
      event.preventDefault();
      field.focus();
      field.select();
    }
  }
  if (event.key === "Escape") {
    for (const menu of document.querySelectorAll("details.more[open]")) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  }
});

// A page that comes back with a refusal begins at the refusal, also where its form stands far down.
const refusal = document.querySelector(".notice.wrong[role=alert]");
if (refusal && refusal.getBoundingClientRect().bottom > window.innerHeight) {
  refusal.scrollIntoView();
}
