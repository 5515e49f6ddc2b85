(function () {
  "use strict";
  const data = JSON.parse(document.getElementById("data").textContent);
  const one = (query, from) => (from || document).querySelector(query);
  const all = (query, from) => Array.from((from || document).querySelectorAll(query));
  const scenario = document.getElementById("scenario"), variant = document.getElementById("variant");

  function show() {
    const key = scenario.value + "|" + variant.value, told = data.pairs[key];
    all(".sw").forEach(each => { each.hidden = each.dataset.when !== key; });
    document.getElementById("absent").hidden = Boolean(told);
    all("[data-pair]").forEach(each => each.classList.toggle("sel", each.dataset.pair === key));
    document.getElementById("print-scenario").textContent = scenario.value;
    document.getElementById("print-variant").textContent = variant.value;
    const out = document.getElementById("verdict");
    out.replaceChildren();
    if (!told) { out.textContent = "not shown in this variant"; return; }
    const amount = document.createElement("b"), word = document.createElement("span");
    amount.textContent = told.amount + " ";
    word.className = "st " + told.status;
    word.textContent = told.word;
    out.append(amount, word, document.createElement("br"), told.subject);
  }
  const [first, second] = data.first.split("|");
  scenario.value = first;
  variant.value = second;
  scenario.addEventListener("change", show);
  variant.addEventListener("change", show);
  show();

  all("figure").forEach(figure => {
    const marks = all(".mk", figure), read = one(".read", figure);
    if (!read) return;
    const box = figure.closest(".sw");
    function tell(mark) {
      read.textContent = mark ? mark.getAttribute("aria-label") : read.dataset.prompt;
      marks.forEach(each => each.classList.toggle("on", each === mark));
      const rows = box ? all('[data-when="' + CSS.escape(box.dataset.when) + '"] tr[data-name]') : [];
      rows.forEach(row => row.classList.toggle("on", Boolean(mark) && row.dataset.name === mark.dataset.name));
    }
    marks.forEach((mark, place) => {
      mark.addEventListener("mouseenter", () => tell(mark));
      mark.addEventListener("focus", () => tell(mark));
      mark.addEventListener("click", () => tell(mark));
      mark.addEventListener("keydown", event => {
        if (event.key === "Escape") {
          event.preventDefault();
          tell(null);
          return;
        }
        const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (!step) return;
        event.preventDefault();
        const next = marks[(place + step + marks.length) % marks.length];
        marks.forEach(each => each.setAttribute("tabindex", each === next ? "0" : "-1"));
        next.focus();
      });
    });
  });

  all(".slide").forEach(figure => {
    const input = one("input", figure), texts = JSON.parse(input.dataset.texts);
    const rows = JSON.parse(input.dataset.rows), table = all("tbody tr", figure);
    function slide() {
      const at = Number(input.value);
      one(".value", figure).textContent = texts[at];
      input.setAttribute("aria-valuetext", texts[at]);
      all("[data-places]", figure).forEach(each => {
        const line = one(".at", each), x = JSON.parse(each.dataset.places)[at];
        line.setAttribute("x1", x);
        line.setAttribute("x2", x);
      });
      rows.forEach((row, place) => {
        const cell = row.cells[at], line = table[place], status = one(".st", line);
        for (const name of ["margin", "decides", "drop", "air"]) {
          const place = one("." + name, line);
          if (place) place.textContent = cell[name];
        }
        status.className = "st " + cell.status;
        status.textContent = cell.status;
      });
    }
    input.addEventListener("input", slide);
    slide();
  });
})();
