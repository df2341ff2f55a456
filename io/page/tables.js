// Every figure of the summary in tables, by the shape it has: keys that are new show up by themselves.
const tables = {
  all(run) {
    const s = run.summary, { make } = element, out = [];
    const lists = { bodies: 'Bodies of water', baths: 'Baths', stages: 'Stages', events: 'Events' };
    for (const [key, title] of Object.entries(lists)) if (Array.isArray(s[key]) && s[key].length) out.push(tables.ofList(title, s[key]));
    for (const b of s.bodies || []) if ((b.pockets || []).length > 1) out.push(tables.ofList(`Pockets of ${b.name}; the first row is all of its water`, b.pockets));
    if (s.ledger) out.push(tables.ofObject('Heat ledger, all stages (positive: into the rig; stored: positive is gained)', s.ledger, (k, v) => (k === 'residual_relative' ? v.toExponential(1) : units.text(v, 'J', 4))));
    if (s.plant) out.push(tables.ofObject('Plant, over the freeze', s.plant));
    const known = new Set(['format', 'provenance', 'freeze', 'last_liquid', 'pockets', 'clear', 'bath', 'plant', 'ledger', 'bodies', 'baths', 'stages', 'events', 'warnings']);
    for (const [key, value] of Object.entries(s)) {
      if (known.has(key) || value === null) continue;
      if (Array.isArray(value) && value.length && value.every((v) => v && typeof v === 'object')) out.push(tables.ofList(answers.top(units.nameOfKey(key)), value));
      else if (value && typeof value === 'object') out.push(tables.ofObject(answers.top(units.nameOfKey(key)), tables.flat(value)));
      else out.push(tables.ofObject(answers.top(units.nameOfKey(key)), { [key]: value }));
    }
    return out.map((t) => make('details', {}, make('summary', {}, t.querySelector('caption').textContent), t));
  },

  // Nested objects by dotted keys; lists of numbers as text.
  flat(object, before = '') {
    const out = {};
    for (const [key, value] of Object.entries(object)) {
      const name = before + key;
      if (value && typeof value === 'object' && !Array.isArray(value)) Object.assign(out, tables.flat(value, `${name}.`));
      else out[name] = value;
    }
    return out;
  },

  text(key, value) {
    const steps = tables.steps(key), last = /^[\d.]+$/.test(steps[steps.length - 1]) && steps.length > 1 ? steps[steps.length - 2] : steps[steps.length - 1];
    if (value === null || value === undefined) return '';
    if (/(^|\.)marks_s(\.|$)/.test(key) && typeof value === 'number') return units.duration(value);
    if (/(^|\.)ledger\./.test(key) && typeof value === 'number') return last === 'residual_relative' ? value.toExponential(1) : units.text(value, 'J', 4);
    if (Array.isArray(value)) return value.every((v) => typeof v === 'number') ? value.map((v) => units.ofKey(last, v)).join(', ') : `${value.length}`;
    return units.ofKey(last, value);
  },

  // "freeze.marks_s.0.5" -> ["freeze", "marks_s", "0.5"]: shares frozen are keys too.
  steps(key) {
    const found = key.match(/^(.*?\.)?(marks_s|\w+_m_per_s)\.([\d.]+)$/);
    return found ? [...(found[1] || '').split('.').filter(Boolean), found[2], found[3]] : key.split('.');
  },

  name(key) {
    return tables.steps(key).map((step, i, all) => (/^[\d.]+$/.test(step) ? (all[i - 1] === 'marks_s' ? units.percent(Number(step)) : /_m_per_s$/.test(all[i - 1]) ? `to ${units.percent(Number(step))}` : `(${step})`)
      : step === 'marks_s' ? 'to' : units.nameOfKey(step))).join(' ');
  },

  ofObject(title, object, show) {
    return element.table(['Figure', 'Value'], Object.entries(object).map(([k, v]) => [tables.name(k), show ? show(k, v) : tables.text(k, v)]), title);
  },

  // A column for each key that any row has; ledgers and other long objects stay with their own tables.
  ofList(title, list) {
    const rows = list.map((item) => {
      const flat = tables.flat(Object.fromEntries(Object.entries(item).filter(([k, v]) => k !== 'ledger' && k !== 'plant' && k !== 'pockets' && v !== null)));
      return flat;
    });
    const keys = [...new Set(rows.flatMap((r) => Object.keys(r)))];
    return element.table(keys.map(tables.name), rows.map((r) => keys.map((k) => (r[k] === undefined ? '' : tables.text(k, r[k])))), title);
  },
};
