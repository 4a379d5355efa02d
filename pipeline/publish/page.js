"use strict";
(() => {
  const page = JSON.parse(document.getElementById("page-data").textContent);
  const records = (table) =>
    table.rows.map((row) => Object.fromEntries(table.columns.map((name, k) => [name, row[k]])));
  const datasets = Object.fromEntries(Object.entries(page.data).map(([name, table]) => [name, records(table)]));
  const brewByNumber = new Map((datasets.brews || []).map((brew) => [brew.i, brew]));
  const drawn = new Map();
  const byId = (id) => document.getElementById(id);
  const plural = (n, word) => `${n.toLocaleString("en")} ${word}${n === 1 ? "" : "s"}`;

  // What a filter leaves. Within one group of boxes any ticked value passes; with none ticked, all pass.
  const form = byId("filters");
  function filterNow() {
    const ticked = {};
    for (const box of form.querySelectorAll("input[type=checkbox]:checked")) {
      (ticked[box.name] ??= new Set()).add(Number(box.value));
    }
    return { ticked, from: byId("from")?.value, to: byId("to")?.value };
  }
  function passes(brew, filter) {
    for (const [name, values] of Object.entries(filter.ticked)) if (!values.has(brew[name])) return false;
    if (filter.from && brew.day < filter.from) return false;
    return !(filter.to && brew.day > filter.to);
  }
  const isActive = (filter) => Object.keys(filter.ticked).length > 0 || Boolean(filter.from || filter.to);

  // Rows of one chart: its panel, the values it needs, and what the filter leaves. Vega writes into rows: hand out copies.
  function rowsOf(meta, shown) {
    const all = (datasets[meta.data] || []).filter(
      (row) => (!meta.panel || row.panel === meta.panel) && meta.needs.every((name) => row[name] !== null));
    const left = shown ? all.filter((row) => shown.has(row.i)) : all;
    return { all: all.length, rows: left.map((row) => ({ ...row })) };
  }

  async function draw(meta) {
    const spec = meta.spec;
    const name = meta.data && (meta.data === "brews" ? "brews" : "residuals");
    if (name) spec.datasets = { ...(spec.datasets || {}), [name]: rowsOf(meta, null).rows };
    const result = await window.vegaEmbed(byId(meta.id), spec, {
      ast: true, renderer: "svg", actions: false, config: page.config, tooltip: showCard, defaultStyle: false, formatLocale: { decimal: ".", thousands: ",", grouping: [3], currency: ["", ""], minus: "-" },
    });
    const picks = (spec.params || []).some((param) => param.name === "picked");
    drawn.set(meta.id, { meta, name, picks, view: result.view });
    if (meta.brush) result.view.addSignalListener("brush", soon(mark));
  }

  function applyFilter() {
    const filter = filterNow();
    const shown = isActive(filter) && datasets.brews
      ? new Set(datasets.brews.filter((brew) => passes(brew, filter)).map((brew) => brew.i)) : null;
    hideBoxes(filter);
    for (const { meta, name, view } of drawn.values()) {
      if (!name) continue;
      const { all, rows } = rowsOf(meta, shown);
      if (meta.row_field) view.height(meta.row_height * Math.max(1, new Set(rows.map((row) => row[meta.row_field])).size));
      view.data(name, rows).resize().runAsync();
      const note = document.querySelector(`[data-for="${meta.id}"]`);
      note.hidden = rows.length === all;
      note.textContent = `The filter leaves ${rows.length.toLocaleString("en")} of ${plural(all, "brew")} here.`;
    }
    byId("status").textContent = datasets.brews ? sayDrawn(shown) : sayCharts();
    window.dispatchEvent(new Event("resize"));
    mark();
  }

  // Whatever carries the name of a method or an instrument ("data-method"), none of which is ticked.
  function hideBoxes(filter) {
    for (const [key, [attributes, values]] of Object.entries(page.filters)) {
      for (const box of document.querySelectorAll(attributes.map((name) => `[data-${name}]`).join())) {
        const own = attributes.map((name) => box.dataset[name]).filter((name) => name !== undefined);
        box.toggleAttribute(`data-off-${key}`, key in filter.ticked && !own.some((name) => filter.ticked[key].has(values.indexOf(name))));
        box.hidden = Object.keys(page.filters).some((each) => box.hasAttribute(`data-off-${each}`));
      }
    }
  }
  function sayDrawn(shown) {
    const total = datasets.brews.length;
    const left = shown ? shown.size : total;
    const hidden = shown ? `; the filter hides ${(total - left).toLocaleString("en")}` : "";
    return `Drawn: ${left.toLocaleString("en")} of ${plural(total, "brew")}${hidden}`;
  }
  function sayCharts() {
    const left = [...drawn.keys()].filter((id) => !byId(id).closest("[hidden]")).length;
    const hidden = left < drawn.size ? `; the filter hides ${drawn.size - left}` : "";
    return `Shown: ${left} of ${plural(drawn.size, "chart")}${hidden}`;
  }

  // A brush on strength against yield fades every other brew in all charts.
  function soon(work) {
    let waiting = false;
    return () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(() => { waiting = false; work(); });
    };
  }
  function inside(brush, row) {
    const ends = Object.entries(brush);
    return ends.length > 0 && ends.every(([field, [a, b]]) => row[field] >= Math.min(a, b) && row[field] <= Math.max(a, b));
  }
  function mark() {
    const picked = {};
    let brushed = false;
    for (const { meta, name, view } of drawn.values()) {
      if (!meta.brush) continue;
      const brush = view.signal("brush") || {};
      if (Object.keys(brush).length === 0) continue;
      brushed = true;
      for (const row of view.data(name)) if (inside(brush, row)) picked[row.i] = true;
    }
    for (const { picks, view } of drawn.values()) {
      if (picks) view.signal("picked", brushed ? picked : null).runAsync();
    }
    sayMarked(brushed, Object.keys(picked).map((i) => brewByNumber.get(Number(i)).id));
  }
  function sayMarked(brushed, ids) {
    byId("clear").hidden = !brushed;
    const more = ids.length > 6 ? ` and ${ids.length - 6} more` : "";
    byId("marked").textContent = brushed ? `${plural(ids.length, "brew")} marked: ${ids.slice(0, 6).join(", ")}${more}` : "";
  }
  function clearMarks() {
    for (const { meta, view } of drawn.values()) {
      if (meta.brush) view.signal("brush_x", []).signal("brush_y", []).runAsync();
    }
  }

  // The card of one brew, or the words of a summary mark. Texts go in as text, never as markup.
  const card = byId("card");
  function line(tag, text) {
    const element = document.createElement(tag);
    element.textContent = text;
    return element;
  }
  function showCard(_handler, event, _item, value) {
    card.hidden = value === null || value === undefined || value === "";
    if (card.hidden) return;
    card.replaceChildren(...(typeof value === "number" ? cardOf(brewByNumber.get(value)) : [line("p", String(value))]));
    const gap = 14;
    const left = Math.min(event.clientX + gap, window.innerWidth - card.offsetWidth - gap);
    const below = event.clientY + gap + card.offsetHeight < window.innerHeight;
    card.style.left = `${Math.max(4, left)}px`;
    card.style.top = `${Math.max(4, below ? event.clientY + gap : event.clientY - gap - card.offsetHeight)}px`;
  }
  function cardOf(brew) {
    const list = document.createElement("dl");
    for (const [name, label] of page.card) {
      if (brew[name] === null || brew[name] === "") continue;
      list.append(line("dt", label), line("dd", String(brew[name])));
    }
    return [line("p", brew.id), list];
  }

  // Print shows every table that is not of single brews, and draws the charts anew for half or all of a sheet's width.
  const SHEET = { half: 325, whole: 680, tallest: 250 };
  const folds = () => document.querySelectorAll("details:not([data-keep])");
  let opened = [];
  window.addEventListener("beforeprint", () => {
    card.hidden = true;
    opened = [...folds()].filter((fold) => !fold.open);
    opened.forEach((fold) => { fold.open = true; });
    for (const [id, { meta, view }] of drawn) {
      if (meta.brush) view.height(SHEET.tallest);
      view.width(byId(id).closest(".pair") ? SHEET.half : SHEET.whole).run();
    }
  });
  window.addEventListener("afterprint", () => {
    opened.forEach((fold) => { fold.open = false; });
    for (const { meta, view } of drawn.values()) if (meta.brush) view.height(meta.spec.height);
    window.dispatchEvent(new Event("resize"));
  });
  // A chart that was drawn while folded away has no width until its fold is opened.
  for (const fold of document.querySelectorAll("details")) {
    fold.addEventListener("toggle", () => { if (fold.open && fold.querySelector(".chart")) window.dispatchEvent(new Event("resize")); });
  }
  window.addEventListener("keydown", (event) => { if (event.key === "Escape") { card.hidden = true; clearMarks(); } });

  form.addEventListener("change", applyFilter);
  form.addEventListener("reset", () => setTimeout(applyFilter));
  form.addEventListener("submit", (event) => event.preventDefault());
  byId("clear").addEventListener("click", clearMarks);
  (async () => {
    for (const meta of page.charts) await draw(meta);
    applyFilter();
    document.documentElement.dataset.drawn = String(drawn.size);
  })();
})();
