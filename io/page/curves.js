// Curves of the series against time, as drawings that print well, with the moment of the slider marked in each.
class Curves {
  // runs: one, or several whose curves lie over each other. pick(time) is told where a chart is clicked.
  constructor(runs, pick) {
    this.runs = runs;
    this.pick = pick;
    this.holder = element.make('div', { class: 'charts' });
    this.groups = Curves.groupsOf(runs);
  }

  static titleOf(name, unit) {
    if (/frozen_share$/.test(name)) return 'Share frozen';
    if (unit === 'degC') return /^(coolant|plant)\./.test(name) ? 'Plant and coil: temperature' : 'Temperatures';
    if (unit === 'W') return 'Plant and coil: heat and power';
    if (/ice_fraction$/.test(name)) return 'Ice in the bath';
    if (/mass_fraction$/.test(name)) return 'Strength of the bath';
    if (/^piece\.mass/.test(name)) return 'Ice left of the piece';
    return name.replace(/^.*\./, '').replace(/_/g, ' ');
  }

  static nameOf(name) {
    return name.replace(/\.temperature$/, '').replace(/^probe\.(.*)$/, 'probe $1').replace(/\./g, ' ').replace(/_/g, ' ');
  }

  static groupsOf(runs) {
    const groups = [], wanted = ['Share frozen', 'Temperatures', 'Plant and coil: temperature', 'Plant and coil: heat and power'];
    runs.forEach((run, r) => run.series.forEach((s) => {
      if (s.name === 'time' || !run.columns[s.name] || !run.columns[s.name].some(Number.isFinite)) return;
      const title = Curves.titleOf(s.name, s.units);
      let group = groups.find((g) => g.title === title && g.unit === s.units);
      if (!group) groups.push(group = { title, unit: s.units, curves: [] });
      group.curves.push({ run, label: runs.length > 1 ? `${run.label}: ${Curves.nameOf(s.name)}` : Curves.nameOf(s.name), column: run.columns[s.name], name: s.name, place: r });
    }));
    const rank = (g) => (wanted.indexOf(g.title) + wanted.length + 1) % (wanted.length + 1);
    return groups.sort((a, b) => rank(a) - rank(b));
  }

  // Low, high of a group, in stored units; shares start at zero.
  static rangeOf(group) {
    let low = Infinity, high = -Infinity;
    for (const c of group.curves) for (const v of c.column) if (Number.isFinite(v)) { low = Math.min(low, v); high = Math.max(high, v); }
    if (group.unit === '1' || group.unit === 'W') low = Math.min(low, 0);
    if (/frozen/.test(group.title)) high = 1;
    if (low === high) return group.unit === '1' ? [0, Math.min(1, 2 * high || 0.01)] : [low - 0.5, high + 0.5];
    return [low, high];
  }

  build(time) {
    this.holder.replaceChildren(...this.groups.map((group) => this.chart(group)));
    this.mark(time);
  }

  chart(group) {
    const { make, drawn } = element;
    const wide = 520, tall = 230, left = 56, right = 12, top = 12, bottom = 40;
    const last = Math.max(...this.runs.map((run) => run.columns.time[run.rows - 1])), first = Math.min(...this.runs.map((run) => run.columns.time[0]));
    const shown = units.shown(group.unit), [low, high] = Curves.rangeOf(group);
    const t = units.ticks(low * shown.by + shown.plus, high * shown.by + shown.plus, 5);
    const y0 = Math.min(low * shown.by + shown.plus, t.ticks[0]), y1 = Math.max(high * shown.by + shown.plus, t.ticks[t.ticks.length - 1]);
    const x = (s) => left + (wide - left - right) * (s - first) / (last - first || 1);
    const y = (v) => top + (tall - top - bottom) * (1 - (v * shown.by + shown.plus - y0) / (y1 - y0 || 1));
    const svg = drawn('svg', { viewBox: `0 0 ${wide} ${tall}`, role: 'img', 'aria-label': `${group.title} against time; the figures at the chosen moment stand below` });
    for (const v of t.ticks) {
      const at = y((v - shown.plus) / shown.by);
      svg.append(drawn('line', { x1: left, x2: wide - right, y1: at, y2: at, class: 'grid' }), drawn('text', { x: left - 6, y: at + 4, 'text-anchor': 'end' }, t.text(v)));
    }
    const hours = units.ticks(first / 3600, last / 3600, 7);
    for (const h of hours.ticks) {
      svg.append(drawn('line', { x1: x(h * 3600), x2: x(h * 3600), y1: tall - bottom, y2: tall - bottom + 4, class: 'edge' }),
        drawn('text', { x: x(h * 3600), y: tall - bottom + 17, 'text-anchor': 'middle' }, hours.text(h)));
    }
    svg.append(drawn('text', { x: (left + wide - right) / 2, y: tall - 5, 'text-anchor': 'middle' }, 'hours from the start'),
      drawn('rect', { x: left, y: top, width: wide - left - right, height: tall - top - bottom, class: 'frame' }));
    group.curves.forEach((c, i) => svg.append(drawn('path', { d: Curves.path(c, x, y), class: `curve c${i % 8}` })));
    group.marker = drawn('line', { y1: top, y2: tall - bottom, class: 'now' });
    group.x = x;
    svg.append(group.marker);
    svg.addEventListener('click', (e) => {
      const box = svg.getBoundingClientRect();
      this.pick(first + ((e.clientX - box.left) / box.width * wide - left) / (wide - left - right) * (last - first));
    });
    group.figures = group.curves.map(() => make('span', { class: 'figure' }));
    const legend = make('ul', { class: 'legend' }, ...group.curves.map((c, i) => make('li', {},
      element.drawn('svg', { viewBox: '0 0 30 10', class: 'key', 'aria-hidden': 'true' }, drawn('path', { d: 'M1 5H29', class: `curve c${i % 8}` })), ` ${c.label} `, group.figures[i])));
    return make('figure', { class: 'chart' }, make('figcaption', {}, `${group.title}, ${shown.sign}`), svg, legend);
  }

  // No more points than the drawing can show: the lowest and highest of each step.
  static path(curve, x, y) {
    const { run, column } = curve, rows = run.rows, every = Math.max(1, Math.floor(rows / 700));
    let text = '', open = false;
    const point = (i) => {
      if (!Number.isFinite(column[i])) { open = false; return; }
      text += `${open ? 'L' : 'M'}${x(run.columns.time[i]).toFixed(1)} ${y(column[i]).toFixed(1)}`;
      open = true;
    };
    for (let i = 0; i < rows; i += every) {
      let low = i, high = i;
      for (let j = i; j < Math.min(rows, i + every); j++) { if (column[j] < column[low]) low = j; if (column[j] > column[high]) high = j; }
      [Math.min(low, high), Math.max(low, high)].forEach((j, k) => { if (k === 0 || low !== high) point(j); });
    }
    if (every > 1) point(rows - 1);
    return text;
  }

  mark(time) {
    for (const group of this.groups) {
      if (!group.marker) continue;
      const at = group.x(time);
      group.marker.setAttribute('x1', at);
      group.marker.setAttribute('x2', at);
      group.curves.forEach((c, i) => {
        const v = c.run.seriesAt(c.name, time);
        group.figures[i].textContent = !Number.isFinite(v) ? '' : group.unit === '1' ? units.percent(v) : group.unit === 'degC' ? units.temperature(v) : units.text(v, group.unit, 4);
      });
    }
  }
}
