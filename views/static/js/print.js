// A page that is made to be printed offers it; a browser without scripts has its own menu.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.onclick = () => window.print();
}
