// The page side of the workbench: native controls, and what the kernel answers.
// One message is under way at a time; while it is, only the newest setting of each control is
// kept and sent next, so that the picture never lags behind more than one step.

let serial = 0;

function element(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  // keys pressed on a control are for it: JupyterLab would take the arrow keys for itself
  if (["input", "select", "button"].includes(tag) || "tabindex" in attributes) {
    node.setAttribute("data-lm-suppress-shortcuts", "true");
  }
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name === "class") node.className = value;
    else if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.filter((c) => c !== null && c !== undefined));
  return node;
}

function shown(value, spec) {
  return Number(value).toFixed(spec.digits);
}

// Make the children of node those of the new text, and leave in place what has not changed: most of
// a drawing is the same move after move, and what stays need not be laid out and painted again.
function rewrite(node, html) {
  const draft = document.createElement("template");
  draft.innerHTML = html;
  follow(node, draft.content);
}

function follow(node, draft) {
  let old = node.firstChild;
  for (const fresh of [...draft.childNodes]) {
    if (!old) node.append(fresh);
    else {
      const next = old.nextSibling;
      if (!old.isEqualNode(fresh)) {
        if (sameKind(old, fresh)) {
          for (const { name, value } of fresh.attributes) old.setAttribute(name, value);
          follow(old, fresh);
        } else old.replaceWith(fresh);
      }
      old = next;
    }
  }
  while (old) {
    const next = old.nextSibling;
    old.remove();
    old = next;
  }
}

// An element with the same attributes in the same order and with elements in it, as is the new one.
function sameKind(old, fresh) {
  return old.nodeName === fresh.nodeName && Boolean(fresh.firstElementChild) &&
    String(old.getAttributeNames()) === String(fresh.getAttributeNames());
}

function nearestStop(stops, value) {
  let best = 0;
  stops.forEach((stop, k) => {
    if (Math.abs(stop - value) < Math.abs(stops[best] - value)) best = k;
  });
  return best;
}

function render({ model, el }) {
  const uid = `lw${++serial}`;
  const layout = model.get("layout_spec");
  const fields = new Map();
  let waiting = false;
  let pending = null;
  let sequence = 0;
  let names = [];

  // every word on the page comes from the kernel, in the words of the units shown
  let texts = layout.texts;
  const worded = [];
  function say(node, key, attribute = "") {
    const write = () => {
      if (attribute) node.setAttribute(attribute, texts[key]);
      else if (node.textContent !== texts[key]) node.textContent = texts[key];
    };
    worded.push(write);
    write();
    return node;
  }
  function label(target, key) {
    return say(element("label", { for: target.id }), key);
  }

  const root = element("div", { class: "lw" });
  const verdict = element("div", { class: "lw-verdict", role: "status", "data-part": "verdict" });
  const problem = element("div", { class: "lw-problem", role: "alert", "data-part": "problem" });
  const note = element("div", { class: "lw-note", role: "status", "data-part": "note" });
  const job = element("span", { class: "lw-job", "data-part": "job" });
  const lift = element("select", { id: `${uid}-lift`, "data-control": "lift" });
  const units = element("select", { id: `${uid}-units`, "data-control": "units" },
    say(element("option", { value: "metric" }), "metric"),
    say(element("option", { value: "us" }), "us"));
  lift.addEventListener("change", () => ask({ kind: "lift", id: lift.value }));
  units.addEventListener("change", () => ask({ kind: "units", system: units.value }));

  function button(part, message) {
    const make = () => ask(typeof message === "function" ? message() : message);
    return say(element("button", { type: "button", "data-action": part, onclick: make }), part);
  }
  const undo = button("undo", { kind: "undo" });
  const redo = button("redo", { kind: "redo" });
  const drop = button("drop", { kind: "drop" });
  const bar = say(element("div", { class: "lw-bar", role: "group" },
    label(lift, "lift"), lift, label(units, "units"), units,
    undo, redo, button("reset", { kind: "reset" }), button("keep", { kind: "keep" }), drop, job),
  "bar", "aria-label");

  const form = element("div", { class: "lw-controls" });
  const groups = new Map();
  for (const id of layout.groups) {
    const set = element("fieldset", { "data-group": id },
      say(element("legend"), `group-${id}`));
    groups.set(id, set);
    form.append(set);
  }
  if (groups.has("look")) {
    groups.get("look").append(element("div", { class: "lw-use" },
      button("use-pick", { kind: "use", end: "pick" }),
      button("use-set-down", { kind: "use", end: "set_down" })));
  }

  const position = element("div", { "data-part": "position" });
  const side = element("div", { class: "lw-side" }, form, position);
  const stage = element("div", { class: "lw-stage" });
  const tabs = say(element("div", { class: "lw-tabs", role: "group" }), "drawings", "aria-label");
  const boxes = new Map();
  for (const id of layout.pictures) {
    const box = element("input", { type: "checkbox", id: `${uid}-p-${id}`, "data-picture": id });
    box.addEventListener("change", () => {
      const wanted = names.filter((n) => boxes.get(n).checked);
      for (const [n, b] of boxes) if (b.checked && !wanted.includes(n)) wanted.push(n);
      ask({ kind: "pictures", names: wanted });
    });
    boxes.set(id, box);
    tabs.append(element("span", {}, box, label(box, `picture-${id}`)));
  }
  const compare = say(element("section", { class: "lw-compare", "data-part": "compare" }),
    "compare", "aria-label");
  const checks = say(element("div",
    { class: "lw-checks", "data-part": "checks", tabindex: "0", role: "region" }),
  "checks", "aria-label");

  function textField(part, value) {
    const input = element("input", { type: "text", id: `${uid}-${part}`, "data-control": part });
    input.value = value;
    return [label(input, part), input];
  }
  const [jobLabel, jobPath] = textField("job", "");
  const [archiveLabel, archive] = textField("archive", layout.archive);
  const [whoLabel, who] = textField("who", "");
  const [recordLabel, record] = textField("record", "");
  const [measuredLabel, measured] = textField("measured", "");
  const files = element("fieldset", { class: "lw-files" },
    say(element("legend"), "files"),
    element("div", {}, jobLabel, jobPath,
      button("open", () => ({ kind: "open", path: jobPath.value }))),
    element("div", {}, archiveLabel, archive, whoLabel, who,
      button("save", () => ({ kind: "save", archive: archive.value, prepared_by: who.value }))),
    element("div", {}, recordLabel, record,
      button("open-record", () => ({ kind: "record", path: record.value }))),
    element("div", {}, measuredLabel, measured,
      button("hold-against", () => ({
        kind: "measured", path: record.value, measured: measured.value, prepared_by: who.value,
      }))));

  const silent = element("div", { class: "lw-silent", role: "alert", "data-part": "silent" });
  root.append(bar, silent, verdict,
    say(element("p", { class: "lw-caution", "data-part": "caution" }), "caution"), problem, note,
    element("div", { class: "lw-body" }, side,
      element("div", { class: "lw-main" }, tabs, stage, compare, checks)), files);
  el.append(root);

  function ask(message) {
    if (waiting) {
      if (pending && pending.kind === "set" && message.kind === "set") {
        pending = { ...message, values: { ...pending.values, ...message.values },
          final: message.final };
      } else if (pending) {
        queue.push(pending);
        pending = message;
      } else pending = message;
      return;
    }
    waiting = true;
    sequence += 1;
    if (message.kind === "save") note.textContent = texts.saving;
    root.setAttribute("aria-busy", "true");
    send({ ...message, seq: sequence });
  }
  const queue = [];

  // What is shown belongs to the last answer. Without one in time it is greyed and said in words:
  // a kernel that is gone or busy must never leave an old verdict beside a new entry.
  const PATIENCE_MS = 3000;
  const SAVE_PATIENCE_MS = 120000;
  let overdue = null;

  function send(message) {
    clearTimeout(overdue);
    const slow = message.kind === "save";
    overdue = setTimeout(() => stale(texts.late), slow ? SAVE_PATIENCE_MS : PATIENCE_MS);
    try {
      // a closed channel throws, or refuses later
      Promise.resolve(model.send(message)).catch(() => gone());
    } catch {
      gone();
    }
  }

  function gone() {
    stale(texts.gone);
  }

  function stale(words) {
    root.classList.toggle("lw-stale", Boolean(words));
    silent.textContent = words;
  }

  function set(id, value, final) {
    ask({ kind: "set", values: { [id]: value }, final });
  }

  function makeControl(spec) {
    const id = `${uid}-${spec.id}`;
    const group = groups.get(spec.group);
    const error = element("div", { class: "lw-error", id: `${id}-error`, role: "alert" });
    const row = element("div", { class: "lw-row", "data-row": spec.id });
    const said = element("div", { class: "lw-said", "data-said": spec.id });
    const name = element("label", { for: id }, spec.label);
    const field = { spec, error, row, said, name };
    if (spec.kind === "choice") {
      const select = element("select", { id, "data-control": spec.id });
      select.addEventListener("change", () => set(spec.id, select.value, true));
      row.append(name, select, error);
      field.select = select;
    } else {
      const slider = element("input", { type: "range", id, "data-slider": spec.id });
      const entry = element("input", {
        // not "number": a browser drops a decimal comma there, and the entry grows tenfold
        type: "text", inputmode: "decimal", id: `${id}-entry`, "data-entry": spec.id,
        autocomplete: "off", "aria-describedby": error.id,
      });
      const unit = element("span", { class: "lw-unit" });
      const value = () =>
        field.spec.stops.length ? field.spec.stops[Number(slider.value)] : Number(slider.value);
      slider.addEventListener("input", () => {
        entry.value = shown(value(), field.spec);
        set(spec.id, value(), false);
      });
      slider.addEventListener("change", () => set(spec.id, value(), true));
      const commit = () => set(spec.id, entry.value, true);
      entry.addEventListener("change", commit);
      entry.addEventListener("keydown", (event) => {
        if (event.key === "Enter") commit();
      });
      row.append(name, slider, entry, unit, said, error);
      Object.assign(field, { slider, entry, unit });
    }
    const use = group.querySelector(".lw-use");
    if (use) group.insertBefore(row, use);
    else group.append(row);
    fields.set(spec.id, field);
    return field;
  }

  function showChoices(select, choices) {
    const words = JSON.stringify(choices);
    if (select.dataset.words === words) return;
    select.dataset.words = words;
    select.replaceChildren(...choices.map(([v, w]) => element("option", { value: v }, w)));
  }

  function showControl(spec, value, said, error) {
    const field = fields.get(spec.id) || makeControl(spec);
    const same = field.value === value && field.limits === `${spec.min}/${spec.max}/${spec.unit}`;
    field.spec = spec;
    field.value = value;
    field.limits = `${spec.min}/${spec.max}/${spec.unit}`;
    field.error.textContent = error || "";
    field.said.textContent = said || "";
    field.name.textContent = spec.label;
    field.row.classList.toggle("lw-bad", Boolean(error));
    if (field.select) {
      showChoices(field.select, spec.choices);
      field.select.value = value;
      return;
    }
    const { slider, entry, unit } = field;
    if (spec.stops.length) {
      Object.assign(slider, { min: 0, max: spec.stops.length - 1, step: 1 });
    } else Object.assign(slider, { min: spec.min, max: spec.max, step: spec.step });
    unit.textContent = spec.unit;
    entry.setAttribute("aria-label", `${spec.label}, ${texts.entry} ${spec.unit}`);
    entry.setAttribute("aria-invalid", error ? "true" : "false");
    slider.setAttribute("aria-valuetext",
      `${shown(value, spec)} ${spec.unit}${said ? `, ${said}` : ""}`);
    const held = waitingFor(spec.id);
    if (!held) {
      slider.value = spec.stops.length ? nearestStop(spec.stops, value) : value;
      if (!error && !(same && document.activeElement === entry)) entry.value = shown(value, spec);
    }
  }

  function waitingFor(id) {
    return Boolean(pending && pending.kind === "set" && id in pending.values);
  }

  function showPictures(state) {
    names = state.names;
    for (const [id, box] of boxes) box.checked = names.includes(id);
    const wanted = names.map((name) => {
      let card = stage.querySelector(`[data-drawing="${name}"]`);
      if (!card) card = element("figure", { class: "lw-card", "data-drawing": name });
      const svg = state.pictures[name];
      if (card.dataset.empty === "true" || card.drawn !== svg) {
        card.drawn = svg;
        card.dataset.empty = svg ? "false" : "true";
        rewrite(card, svg || `<p class="lw-none">${texts.empty}</p>`);
      }
      return card;
    });
    const present = [...stage.children];
    if (present.length !== wanted.length || present.some((c, k) => c !== wanted[k])) {
      stage.replaceChildren(...wanted);
    }
  }

  function showPart(node, html) {
    if (node.written !== html) {
      node.written = html;
      rewrite(node, html);
    }
  }

  function show(state) {
    texts = state.texts;
    for (const write of worded) write();
    job.textContent = state.job;
    if (lift.options.length !== state.lifts.length || lift.dataset.job !== state.job) {
      lift.replaceChildren(...state.lifts.map(([v, w]) => element("option", { value: v }, w)));
      lift.dataset.job = state.job;
    }
    lift.value = state.lift;
    units.value = state.system;
    undo.disabled = !state.undo;
    redo.disabled = !state.redo;
    drop.disabled = !state.compare;
    verdict.className = `lw-verdict lw-${state.status}`;
    if (verdict.textContent !== state.verdict) verdict.textContent = state.verdict;
    problem.textContent = state.errors[""] || "";
    note.textContent = state.note;
    for (const spec of state.controls) {
      showControl(spec, state.values[spec.id], state.said[spec.id], state.errors[spec.id]);
    }
    showPart(position, state.position);
    showPart(checks, state.checks);
    showPictures(state);
    showPart(compare, state.compare
      ? `<div class="lw-pair"><figure class="lw-card"><figcaption>${texts.held}</figcaption>` +
        `${state.compare.picture}</figure></div>${state.compare.table}`
      : "");
  }

  const receive = (state) => {
    if (!state || !["state", "failure", "alive"].includes(state.kind)) return;
    if (state.kind === "alive" && waiting) return;
    clearTimeout(overdue);
    stale("");
    if (state.kind === "alive") return;
    if (state.seq === sequence) waiting = false;
    root.classList.toggle("lw-failed", state.kind === "failure");
    if (state.kind === "failure") problem.textContent = state.problem;
    else show(state);
    root.dataset.seq = String(state.seq);
    root.setAttribute("aria-busy", "false");
    if (!waiting && (queue.length || pending)) {
      const next = queue.length ? queue.shift() : pending;
      if (next === pending) pending = null;
      ask(next);
    }
  };
  model.on("msg:custom", receive);
  ask({ kind: "hello" });
  // a kernel that is still busy with other cells may miss the first word
  const again = setInterval(() => {
    if (!root.dataset.seq) send({ kind: "hello", seq: sequence });
    else if (!waiting && !document.hidden) send({ kind: "alive" });
  }, 4000);
  return () => {
    clearInterval(again);
    clearTimeout(overdue);
    model.off("msg:custom", receive);
  };
}

export default { render };
