// The sections of one run or several, with one slider of time, one choice of map, one place pointed at.
class Viewer {
  constructor(runs, curves) {
    this.runs = runs;
    this.curves = curves;
    this.maps = maps.list(runs);
    this.map = this.maps[0];
    const ends = runs.map((run) => run.times[run.times.length - 1] || 0);
    this.times = [...new Set(runs.flatMap((run) => run.times))].sort((a, b) => a - b);
    this.time = this.times[0] || 0;
    this.end = Math.max(...ends);
    this.point = null;
    this.panes = runs.map((run) => this.paneOf(run));
    this.busy = false;
  }

  // One run: its sections, and the place that the planes pass through (the last water, else the middle).
  paneOf(run) {
    const last = ((run.summary.bodies || []).map((b) => b.last_liquid && b.last_liquid.position_m).filter(Boolean)).map((p) => (p.length === 2 ? [p[0], 0, p[1]] : p));
    const at = last.length ? [...last[last.length - 1]] : [0, 1, 2].map((a) => (run.lattice.low[a] + run.lattice.high[a]) / 2);
    const sections = run.revolved ? [new Section(run, [0, 2], 'Section through the axis')]
      : [new Section(run, [0, 2], 'Section along x, seen from the side'), new Section(run, [1, 2], 'Section across, along y'), new Section(run, [0, 1], 'Section from above')];
    const pane = { run, sections, at, last, solid: run.revolved ? null : new Solid(run, Math.round(460 * Math.min(2, window.devicePixelRatio || 1))) };
    sections.forEach((section) => this.listen(pane, section));
    if (pane.solid) this.listenSolid(pane);
    return pane;
  }

  listen(pane, section) {
    const { canvas } = section;
    const look = (e) => this.pointAt(pane, section.placeOf(e.clientX, e.clientY, pane.at));
    canvas.addEventListener('pointermove', look);
    canvas.addEventListener('pointerdown', (e) => { canvas.focus({ preventScroll: true }); look(e); if (!pane.run.revolved) this.cutAt(pane, this.point); });
    canvas.addEventListener('keydown', (e) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
      if (!way) return;
      e.preventDefault();
      const [a, b] = section.axes, from = [...(this.point || pane.at)], far = e.shiftKey ? 5 : 1;
      if (!pane.run.revolved) from[section.third] = pane.at[section.third];
      const go = (axis, which, steps) => {
        const cell = pane.run.cellAlong(axis, from[axis]), m = pane.run.middles[axis];
        if (steps && cell >= 0) from[axis] = m[Math.min(m.length - 1, Math.max(0, cell + steps))];
      };
      go(a, 0, way[0] * far);
      go(b, 1, way[1] * far);
      this.pointAt(pane, from);
    });
  }

  listenSolid(pane) {
    const { solid } = pane, { canvas } = solid;
    let held = null;
    canvas.addEventListener('pointerdown', (e) => { held = [e.clientX, e.clientY]; canvas.setPointerCapture(e.pointerId); });
    canvas.addEventListener('pointerup', () => { held = null; });
    canvas.addEventListener('pointermove', (e) => {
      if (!held) return;
      this.turn(pane, (e.clientX - held[0]) * 0.01, (e.clientY - held[1]) * 0.01);
      held = [e.clientX, e.clientY];
    });
    canvas.addEventListener('keydown', (e) => {
      const way = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] }[e.key];
      if (way) { e.preventDefault(); this.turn(pane, ...way); }
    });
  }

  turn(pane, by, up) {
    pane.solid.turn += by;
    pane.solid.tilt = Math.min(1.5, Math.max(-1.5, pane.solid.tilt + up));
    this.draw();
  }

  pointAt(pane, point) {
    this.point = point;
    this.pointed = pane;
    this.draw();
  }

  cutAt(pane, at) {
    for (const other of this.panes) if (!other.run.revolved) other.at = [...at];
    this.panes.forEach((p) => this.planes && this.showPlanes(p));
    this.draw();
  }

  // ---------------------------------------------------------------- layout

  build(holder) {
    const { make } = element;
    this.holder = holder;
    const index = this.times.indexOf(this.time);
    this.slider = make('input', { type: 'range', min: '0', max: String(Math.max(0, this.times.length - 1)), step: '1', value: String(Math.max(0, index)), id: 'time', 'aria-label': 'Moment' });
    this.slider.addEventListener('input', () => this.setTime(this.times[Number(this.slider.value)]));
    this.clock = make('output', { class: 'clock', for: 'time', id: 'clock' });
    this.select = make('select', { id: 'map' }, ...this.maps.map((m) => make('option', { value: m.id, selected: m === this.map }, m.title)));
    this.select.addEventListener('change', () => { this.map = this.maps.find((m) => m.id === this.select.value); this.legend(); this.draw(); });
    this.readout = make('div', { class: 'readout', id: 'readout', 'aria-live': 'polite' });
    this.key = make('div', { class: 'key-holder' });
    const panes = this.panes.map((pane) => this.buildPane(pane));
    holder.replaceChildren(
      make('div', { class: 'controls' },
        make('label', { class: 'slide' }, make('span', {}, 'Moment'), this.slider, this.clock),
        make('label', {}, 'Map ', this.select)),
      make('div', { class: this.panes.length > 1 ? 'panes several' : 'panes' }, ...panes, make('div', { class: 'beside' }, this.key, this.readout)),
      ...this.thinned());
    this.legend();
    this.fit();
    this.draw();
  }

  buildPane(pane) {
    const { make } = element;
    const figures = pane.sections.map((s) => make('figure', { class: 'cut' }, s.canvas, make('figcaption', {}, s.name)));
    if (pane.solid) figures.push(make('figure', { class: 'cut' }, pane.solid.canvas, make('figcaption', {}, 'Water that remains, in the outline; drag or arrow keys turn it')));
    const sliders = pane.run.revolved ? null : this.planeSliders(pane);
    pane.holder = make('div', { class: 'pane' }, this.runs.length > 1 && make('h3', {}, pane.run.label), make('div', { class: pane.run.revolved ? 'cuts' : 'cuts four' }, ...figures), sliders);
    return pane.holder;
  }

  planeSliders(pane) {
    const { make } = element;
    this.planes = true;
    pane.sliders = ['x', 'y', 'z'].map((name, axis) => {
      const l = pane.run.lattice, low = pane.run.mirror[axis] ? 2 * pane.run.edges[axis][0] - l.high[axis] : l.low[axis];
      const input = make('input', { type: 'range', min: String(low), max: String(l.high[axis]), step: String((l.high[axis] - low) / 200), value: String(pane.at[axis]), 'aria-label': `Plane at ${name}` });
      const output = make('output', {});
      input.addEventListener('input', () => { pane.at[axis] = Number(input.value); this.showPlanes(pane); this.draw(); });
      return { input, output, label: make('label', { class: 'slide' }, make('span', {}, `Plane ${name}`), input, output) };
    });
    this.showPlanes(pane);
    return make('div', { class: 'planes' }, ...pane.sliders.map((s) => s.label));
  }

  showPlanes(pane) {
    if (!pane.sliders) return;
    pane.sliders.forEach((s, axis) => {
      s.input.value = String(pane.at[axis]);
      s.output.textContent = `${'xyz'[axis]} = ${units.where(pane.at[axis])}`;
    });
  }

  thinned() {
    return this.runs.filter((run) => run.stride > 1 || run.time_stride > 1).map((run) => answers.quiet(
      `${this.runs.length > 1 ? `${run.label}: ` : ''}This run is too large for one page: shown are ${run.stride > 1 ? `every ${Viewer.ordinal(run.stride)} cell along each axis (${run.num.filter((n) => n > 1).join(' by ')} of ${run.cells.filter((n) => n > 1).join(' by ')})` : 'all cells'} and ${run.time_stride > 1 ? `every ${Viewer.ordinal(run.time_stride)} stored time` : 'all stored times'}; the values are those of fields.h5, which holds all of them.`));
  }

  // The same scale for all: pixels per metre that let every pane fit.
  fit() {
    const page = Math.min(document.documentElement.clientWidth - 32, this.holder.clientWidth || 1000);
    const narrow = page < 700, several = this.panes.length;
    let scale = Infinity;
    for (const pane of this.panes) {
      const wide = narrow ? page : several > 1 ? Math.max(260, page / Math.min(several, 3) - 24) : pane.run.revolved ? Math.min(620, page - 300) : Math.min(560, page / 2 - 14);
      for (const s of pane.sections) scale = Math.min(scale, s.fit(wide, pane.run.revolved ? 620 : 380));
    }
    for (const pane of this.panes) for (const s of pane.sections) s.resize(scale);
    this.fitted = page;
  }

  legend() {
    const { make } = element, used = new Set(this.runs.flatMap((run) => run.parts.map((p) => p.look)));
    const row = (kind, share, text) => make('li', {}, look.swatch(kind, share), ` ${text}`);
    const named = (kind) => [...new Set(this.runs.flatMap((run) => run.parts.filter((p) => p.look === kind).map((p) => p.name)))].join(', ');
    const rows = [];
    if (used.has('water')) rows.push(row('water', 1, 'ice'), row('water', 0, 'water'));
    if (used.has('brine')) rows.push(row('brine', 0, `brine (${named('brine')})`), row('brine', 0.3, 'slush: ice in the brine'));
    if (used.has('metal')) rows.push(row('metal', undefined, `metal: ${named('metal')}`));
    if (used.has('plastic')) rows.push(row('plastic', undefined, `plastic, wood and the like: ${named('plastic')}`));
    if (used.has('insulation')) rows.push(row('insulation', undefined, `foam and insulation: ${named('insulation')}`));
    if (used.has('held')) rows.push(row('held', undefined, `held at a temperature: ${named('held')}`));
    const sign = (...drawn) => element.drawn('svg', { viewBox: '0 0 34 20', class: 'swatch', 'aria-hidden': 'true' }, ...drawn);
    const { drawn } = element;
    if (this.runs.some((run) => run.coils.length)) rows.push(make('li', {}, sign(drawn('circle', { cx: 17, cy: 10, r: 6, class: 'sign coil' })), ' tube of the coil'));
    if (this.runs.some((run) => run.probes.length)) rows.push(make('li', {}, sign(drawn('path', { d: 'M17 3l7 7-7 7-7-7z', class: 'sign' })), ` probe: ${[...new Set(this.runs.flatMap((r) => r.probes.map((p) => p.name)))].join(', ')}`));
    if (this.panes.some((p) => p.last.length)) rows.push(make('li', {}, sign(drawn('circle', { cx: 17, cy: 10, r: 7, class: 'sign last' })), ' last water'));
    const front = this.map.place ? make('li', {}, sign(drawn('path', { d: 'M2 10H32', class: 'sign front' })), ` front of the ice at this moment`) : null;
    if (front && (this.map.field || this.map.id === 'map freeze_time' || this.map.water_only)) rows.push(front);
    this.key.replaceChildren(...[this.map.place && maps.bar(this.map), this.map.hint && answers.quiet(`${this.map.hint}.`), make('ul', { class: 'legend looks' }, ...rows)].filter(Boolean));
  }

  // ---------------------------------------------------------------- the moment

  setTime(time) {
    this.time = time;
    const index = this.times.reduce((best, t, i) => (Math.abs(t - time) < Math.abs(this.times[best] - time) ? i : best), 0);
    this.slider.value = String(index);
    this.time = this.times[index];
    this.curves.mark(this.time);
    this.draw();
  }

  // Draws as soon as the figures of the moment are there; calls that come meanwhile are taken together.
  async draw() {
    this.again = true;
    if (this.busy) return;
    this.busy = true;
    while (this.again) {
      this.again = false;
      await this.drawNow();
    }
    this.busy = false;
    document.documentElement.dataset.drawn = String(Number(document.documentElement.dataset.drawn || 0) + 1);
  }

  async drawNow() {
    const words = units.duration(this.time);
    const shares = this.runs.length > 1 ? [] : this.runs[0].series.filter((s) => /frozen_share$/.test(s.name)).map((s) => `${s.name.replace(/\..*$/, '')} ${units.percent(this.runs[0].seriesAt(s.name, this.time))} frozen`);
    this.clock.textContent = [words, ...shares].join(', ');
    this.slider.setAttribute('aria-valuetext', this.clock.textContent);
    for (const pane of this.panes) {
      const index = pane.run.nearest(this.time);
      if (index !== pane.index) {
        pane.moment = await pane.run.moment(index);
        pane.index = index;
      }
      const what = { map: this.map, moment: pane.moment, at: pane.at, time: pane.run.times[index], point: this.point, last: pane.last };
      for (const s of pane.sections) s.draw(what);
      if (pane.solid) pane.solid.draw(pane.moment);
    }
    this.read();
  }

  read() {
    const { make } = element;
    if (!this.point) {
      this.readout.replaceChildren(make('p', { class: 'quiet' }, 'Point at any place of the section, or move there with the arrow keys, to read its figures.'));
      return;
    }
    const place = this.pointed.run.revolved ? [this.point[0], this.point[2]] : this.point;
    const columns = this.panes.map((pane) => {
      const found = pane.run.read(this.point, pane.moment);
      const rows = found.values.map((v) => [make('dt', {}, maps.titles[v.name] || answers.top(v.name.replace(/_/g, ' '))), make('dd', { 'data-name': v.name }, Viewer.figure(v))]);
      return make('div', {}, make('p', {}, `${this.runs.length > 1 ? `${pane.run.label}: ` : ''}${found.part ? `${found.part.name}${found.part.material ? ` (${found.part.material})` : ''}` : 'the room'}`),
        found.values.length ? make('dl', {}, ...rows.flat()) : make('p', { class: 'quiet' }, 'No figures are stored for this place.'));
    });
    this.readout.replaceChildren(make('p', { class: 'place' }, `At ${units.place(place)}`), ...columns);
  }

  static ordinal(n) { return `${n}${{ 2: 'nd', 3: 'rd' }[n] || 'th'}`; }

  static figure(v) {
    if (v.name === 'pocket') return v.value === 0 ? 'the main body of water' : `number ${v.value}`;
    if (v.name === 'clarity') return `${units.text(v.value, 'm-1', 4)}: ${v.value < 1 ? 'clear' : v.value > 30 ? 'white' : 'hazy'}`;
    if (v.units === 's') return `${units.text(v.value, 's', 4)} after the start`;
    return units.text(v.value, v.units, 4);
  }
}
