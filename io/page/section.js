// One plane through a run, drawn pixel by pixel from the stored figures, with a place that can be pointed at.
// axes: [across, up], 0 = x or r, 1 = y, 2 = z. Places are {x, y, z} of the rig; what lies behind a mirror is shown on both sides.
class Section {
  constructor(run, axes, name) {
    this.run = run;
    this.axes = axes;
    this.third = 3 - axes[0] - axes[1];
    this.name = name;
    this.canvas = element.make('canvas', { class: 'section', tabindex: '0', role: 'application', 'aria-roledescription': 'picture to point at',
      'aria-label': `${name}. Arrow keys move the pointer; the figures there stand below.` });
    const margin = 0.03 * Math.max(...axes.map((a) => this.reach(a)));
    this.low = axes.map((a) => (run.mirror[a] ? 2 * this.mirrorAt(a) - run.lattice.high[a] : run.lattice.low[a]) - margin);
    this.high = axes.map((a) => run.lattice.high[a] + margin);
  }

  mirrorAt(axis) { return this.run.revolved && axis === 0 ? 0 : this.run.edges[axis][0]; }
  reach(axis) { return (this.run.lattice.high[axis] - this.run.lattice.low[axis]) * (this.run.mirror[axis] ? 2 : 1); }
  back(axis, x) { return this.run.mirror[axis] && x < this.mirrorAt(axis) ? 2 * this.mirrorAt(axis) - x : x; }

  // Pixels per metre so that the whole fits a box of CSS pixels.
  fit(width, height) { return Math.min(width / (this.high[0] - this.low[0]), height / (this.high[1] - this.low[1])); }

  resize(pixelsPerMetre) {
    const dense = Math.min(2, window.devicePixelRatio || 1);
    this.scale = pixelsPerMetre;
    this.dense = dense;
    this.width = Math.max(40, Math.round((this.high[0] - this.low[0]) * pixelsPerMetre * dense));
    this.height = Math.max(40, Math.round((this.high[1] - this.low[1]) * pixelsPerMetre * dense));
    this.canvas.width = this.width;
    this.canvas.height = this.height;
    this.canvas.style.width = `${this.width / dense}px`;
    this.rulers = null;
  }

  // For each column and row of pixels: the place, the sample of parts, and the two cells it lies between with their weight.
  ruler(which) {
    const axis = this.axes[which], num = which ? this.height : this.width, run = this.run, l = run.lattice, m = run.middles[axis];
    const r = { at: new Float64Array(num), part: new Int32Array(num), low: new Int32Array(num), high: new Int32Array(num), weight: new Float32Array(num), cell: new Int32Array(num) };
    for (let p = 0; p < num; p++) {
      const share = (p + 0.5) / num;
      const x = this.back(axis, which ? this.high[1] - share * (this.high[1] - this.low[1]) : this.low[0] + share * (this.high[0] - this.low[0]));
      const sample = Math.floor((x - l.low[axis]) / (l.high[axis] - l.low[axis]) * l.num[axis]);
      r.at[p] = x;
      r.part[p] = sample < 0 || sample >= l.num[axis] ? -1 : sample;
      const cell = r.cell[p] = run.cellAlong(axis, x);
      let i = cell;
      if (i >= 0 && x < m[i]) i--;
      r.low[p] = cell < 0 ? -1 : Math.max(0, i);
      r.high[p] = cell < 0 ? -1 : Math.min(m.length - 1, i + 1);
      r.weight[p] = cell < 0 || r.low[p] === r.high[p] ? 0 : (x - m[r.low[p]]) / (m[r.high[p]] - m[r.low[p]]);
    }
    return r;
  }

  // Part (+1) of each pixel, for the plane through `at`.
  layOut(at) {
    if (!this.rulers) this.rulers = [this.ruler(0), this.ruler(1)];
    const l = this.run.lattice, third = this.third, strideOf = [1, l.num[0], l.num[0] * l.num[1]];
    const x = this.back(third, at[third]);
    let depth = l.num[third] === 1 ? 0 : Math.floor((x - l.low[third]) / (l.high[third] - l.low[third]) * l.num[third]);
    depth = Math.min(l.num[third] - 1, Math.max(0, depth));
    this.slice = this.run.revolved ? 0 : Math.max(0, this.run.cellAlong(third, x));
    this.part = new Uint8Array(this.width * this.height);
    const [a, b] = this.rulers;
    for (let q = 0; q < this.height; q++) {
      if (b.part[q] < 0) continue;
      const base = depth * strideOf[third] + b.part[q] * strideOf[this.axes[1]];
      for (let p = 0; p < this.width; p++)
        if (a.part[p] >= 0) this.part[q * this.width + p] = l.parts[base + a.part[p] * strideOf[this.axes[0]]];
    }
  }

  // Values of a pair {water, rest} at every pixel: bilinear between cells of the same part, NaN where there is none.
  sample(pair) {
    const { run, rulers: [a, b], axes, third } = this;
    const stride = [1, run.num[0], run.num[0] * run.num[1]];
    const out = new Float32Array(this.width * this.height).fill(NaN);
    const base = (run.revolved ? 0 : this.slice) * stride[third], sa = stride[axes[0]], sb = stride[axes[1]];
    const isWater = run.parts.map((p) => p.look === 'water');
    for (let q = 0; q < this.height; q++) {
      if (b.low[q] < 0) continue;
      const r0 = base + b.low[q] * sb, r1 = base + b.high[q] * sb, wb = b.weight[q];
      for (let p = 0; p < this.width; p++) {
        const part = this.part[q * this.width + p];
        if (!part || a.low[p] < 0) continue;
        const values = isWater[part - 1] ? pair.water : pair.rest;
        if (!values) continue;
        const own = isWater[part - 1] ? 0 : part, wa = a.weight[p];
        let sum = 0, weight = 0;
        const take = (cell, w) => {
          const v = values[cell];
          if (w > 0 && v === v && (!own || run.restPart[cell] === own)) { sum += w * v; weight += w; }
        };
        take(r0 + a.low[p] * sa, (1 - wa) * (1 - wb));
        take(r0 + a.high[p] * sa, wa * (1 - wb));
        take(r1 + a.low[p] * sa, (1 - wa) * wb);
        take(r1 + a.high[p] * sa, wa * wb);
        if (!(weight > 1e-6)) take(base + b.cell[q] * sb + a.cell[p] * sa, 1e-3);
        if (weight > 0) out[q * this.width + p] = sum / weight;
      }
    }
    return out;
  }

  // what: {map, moment, at (the planes pass through it), time, point (pointed at, or null), last: [{point}]}
  draw(what) {
    this.layOut(what.at);
    const { width, height, run } = this;
    const context = this.canvas.getContext('2d');
    const image = context.createImageData(width, height), out = image.data, unit = Math.max(1, Math.round(this.dense));
    const liquid = this.sample({ water: what.moment.water.liquid_fraction, rest: what.moment.rest.liquid_fraction });
    const map = what.map.place ? what.map : null;
    const values = map && (map.field === 'liquid_fraction' ? liquid : this.sample(map.values(run, what.moment)));
    const dark = document.documentElement.dataset.theme === 'dark', pale = dark ? 26 : 255;
    const ramp = map && look.ramps[map.ramp];
    for (let i = 0; i < width * height; i++) {
      const part = this.part[i];
      if (!part) continue;
      const kind = (run.parts[part - 1] || {}).look, at = 4 * i, px = i % width, py = (i - px) / width;
      const freezes = kind === 'water' || kind === 'brine', share = liquid[i] === liquid[i] && freezes ? 1 - liquid[i] : undefined;
      if (map && values[i] === values[i] && (!map.field || map.field !== 'liquid_fraction' || freezes)) {
        const c = 3 * Math.round(255 * Math.min(1, Math.max(0, map.place(values[i]))));
        out[at] = ramp[c]; out[at + 1] = ramp[c + 1]; out[at + 2] = ramp[c + 2];
      } else if (map && kind === 'water') {
        const c = look.ground.water; // a map without a value here: still water
        out[at] = c[0]; out[at + 1] = c[1]; out[at + 2] = c[2];
      } else {
        look.paint(out, at, kind, share, px, py, unit);
        if (map) for (let k = 0; k < 3; k++) out[at + k] += 0.6 * (pale - out[at + k]);
      }
      out[at + 3] = 255;
    }
    if (map) this.lines(out, values, maps.levels(map), look.ink, 0.55);
    const front = what.map.id === 'map freeze_time' || what.map.id === 'map solid_time';
    if (front) this.lines(out, values, [what.time], look.mark, 1, 2);
    else this.lines(out, this.onlyWater(liquid), [0.5], map ? look.mark : look.ink, map ? 1 : 0.5, map ? 2 : 1);
    this.outlines(out);
    context.putImageData(image, 0, 0);
    this.coils(context, what.at);
    this.marks(context, what);
    this.scaleBar(context);
  }

  onlyWater(liquid) {
    const water = this.run.parts.map((p) => p.look === 'water');
    return liquid.map((v, i) => (this.part[i] && water[this.part[i] - 1] ? v : NaN));
  }

  // Darkens pixels where a level passes to the right or downward neighbour.
  lines(out, values, levels, ink, strength, thick = 1) {
    if (!levels || !levels.length) return;
    const { width, height } = this;
    const step = (v) => { let n = 0; while (n < levels.length && levels[n] <= v) n++; return n; };
    const at = new Int8Array(width * height);
    for (let i = 0; i < at.length; i++) at[i] = values[i] === values[i] ? step(values[i]) : -1;
    const touch = (i) => { for (let k = 0; k < 3; k++) out[4 * i + k] += strength * (ink[k] - out[4 * i + k]); };
    for (let q = 0; q + 1 < height; q++)
      for (let p = 0; p + 1 < width; p++) {
        const i = q * width + p;
        const passes = (j) => at[i] >= 0 && at[j] >= 0 && at[i] !== at[j];
        if (!passes(i + 1) && !passes(i + width)) continue;
        touch(i);
        for (let t = 1; t < thick * this.dense; t++) { if (p >= t) touch(i - t); if (q >= t) touch(i - t * width); }
      }
  }

  outlines(out) {
    const { width, height, part } = this, ink = look.ink;
    const dark = (i) => { for (let k = 0; k < 3; k++) out[4 * i + k] = 0.25 * out[4 * i + k] + 0.75 * ink[k]; out[4 * i + 3] = 255; };
    for (let q = 0; q + 1 < height; q++)
      for (let p = 0; p + 1 < width; p++) {
        const i = q * width + p;
        if (part[i] === part[i + 1] && part[i] === part[i + width]) continue;
        dark(part[i] ? i : part[i + 1] ? i + 1 : i + width);
      }
  }

  // Pixel of a place; mirrored: of its image. Null when the plane does not pass near it.
  pixel(point, at, mirrored = false) {
    const [a, b] = this.axes, t = this.third;
    if (!this.run.revolved && at && Math.abs(point[t] - at[t]) > 0.03 * Math.max(this.high[0] - this.low[0], this.high[1] - this.low[1])) return null;
    const x = mirrored ? 2 * this.mirrorAt(a) - point[a] : point[a];
    return [(x - this.low[0]) * this.scale * this.dense, (this.high[1] - point[b]) * this.scale * this.dense];
  }

  // The place of a pixel of the screen inside the canvas.
  placeOf(clientX, clientY, at) {
    const box = this.canvas.getBoundingClientRect(), place = [...at];
    place[this.axes[0]] = this.back(this.axes[0], this.low[0] + (clientX - box.left) / box.width * (this.high[0] - this.low[0]));
    place[this.axes[1]] = this.back(this.axes[1], this.high[1] - (clientY - box.top) / box.height * (this.high[1] - this.low[1]));
    return place;
  }

  // Where tube goes through the plane: every ring of a coil about the axis, each crossing of a line in (x, y, z).
  coils(context, at) {
    for (const coil of this.run.coils)
      for (const point of this.run.revolved ? coil.rings.map(([r, z]) => [r, 0, z]) : this.crossings(coil.points, at))
        for (const mirrored of this.run.mirror[this.axes[0]] ? [false, true] : [false]) {
          const [x, y] = this.pixel(point, null, mirrored), radius = Math.max(2 * this.dense, coil.tube / 2 * this.scale * this.dense);
          context.lineWidth = 1.2 * this.dense;
          context.beginPath();
          context.arc(x, y, radius, 0, 2 * Math.PI);
          context.fillStyle = '#c47a45';
          context.fill();
          context.strokeStyle = 'rgb(26,32,40)';
          context.stroke();
        }
  }

  crossings(points, at) {
    const t = this.third, plane = this.back(t, at[t]), found = [];
    for (let i = 1; i < points.length; i++) {
      const a = points[i - 1], b = points[i];
      if ((a[t] < plane) === (b[t] < plane)) continue;
      const share = (plane - a[t]) / (b[t] - a[t]);
      found.push(a.map((v, k) => v + share * (b[k] - v)));
    }
    return found;
  }

  marks(context, what) {
    const d = this.dense;
    for (const probe of this.run.probes) {
      const at = this.pixel(probe.point, what.at);
      if (!at) continue;
      context.fillStyle = '#fff';
      context.strokeStyle = 'rgb(26,32,40)';
      context.lineWidth = 1.5 * d;
      context.beginPath();
      context.moveTo(at[0], at[1] - 5 * d); context.lineTo(at[0] + 5 * d, at[1]); context.lineTo(at[0], at[1] + 5 * d); context.lineTo(at[0] - 5 * d, at[1]);
      context.closePath();
      context.fill();
      context.stroke();
    }
    for (const point of what.last) {
      const at = this.pixel(point, what.at);
      if (at) for (const [ink, wide] of [['#fff', 5], [`rgb(${look.mark})`, 2.6]]) {
        context.strokeStyle = ink;
        context.lineWidth = wide * d;
        context.beginPath();
        context.arc(at[0], at[1], 8 * d, 0, 2 * Math.PI);
        context.stroke();
      }
    }
    if (!what.point) return;
    const [x, y] = this.pixel(what.point, null, false);
    for (const [ink, wide] of [['rgba(255,255,255,.85)', 3], ['rgb(26,32,40)', 1.2]]) {
      context.strokeStyle = ink;
      context.lineWidth = wide * d;
      context.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { context.moveTo(x + 4 * d * dx, y + 4 * d * dy); context.lineTo(x + 14 * d * dx, y + 14 * d * dy); }
      context.stroke();
    }
  }

  // A length to judge by, in the room or over the picture's lower left.
  scaleBar(context) {
    const d = this.dense, shown = units.shown('m', 0), room = (this.high[0] - this.low[0]) * shown.by / 4;
    const power = 10 ** Math.floor(Math.log10(room)), length = [5, 2, 1].map((v) => v * power).find((v) => v <= room);
    const wide = length / shown.by * this.scale * d, y = this.height - 9 * d, x = 8 * d, words = `${units.digits(length, 1)} ${shown.sign}`;
    context.font = `${12 * d}px "DejaVu Sans", Verdana, sans-serif`;
    context.fillStyle = 'rgba(255,255,255,0.85)'; // a plate: parts may lie there
    context.fillRect(x - 5 * d, y - 21 * d, Math.max(wide, context.measureText(words).width) + 10 * d, 27 * d);
    for (const [ink, thick] of [['#fff', 5], ['rgb(26,32,40)', 2]]) {
      context.strokeStyle = ink;
      context.lineWidth = thick * d;
      context.beginPath();
      context.moveTo(x, y); context.lineTo(x + wide, y);
      context.stroke();
    }
    context.fillStyle = 'rgb(26,32,40)';
    context.fillText(words, x, y - 5 * d);
  }
}
