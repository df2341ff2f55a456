// One run of the page's data: its figures decoded when they are asked for, and questions about a place.
class Run {
  constructor(data) {
    Object.assign(this, data);
    this.revolved = data.dimension === 'rz';
    const { x, y, z } = data.grid;
    this.edges = [x, y, z];
    this.num = [x.length - 1, y.length - 1, z.length - 1];
    this.numCells = this.num[0] * this.num[1] * this.num[2];
    this.middles = this.edges.map((e) => e.slice(1).map((high, i) => (high + e[i]) / 2));
    this.kept = new Map();
  }

  // What does not change with time, decoded once.
  async open() {
    const parts = await decode.bytes(this.lattice.part);
    this.lattice.parts = parts;
    this.restPart = await decode.bytes(this.rest_part);
    this.mapValues = {};
    for (const map of this.maps) this.mapValues[map.name] = await decode.floats(map.block, this.numCells);
    this.columns = {};
    const time = this.series.find((s) => s.name === 'time');
    if (time) {
      const raw = await decode.bytes(time.block);
      this.rows = raw.length / 4;
      for (const s of this.series) this.columns[s.name] = await decode.floats(s.block, this.rows);
    } else {
      this.rows = 0;
    }
    return this;
  }

  field(side, name) { return this.fields.find((f) => f.side === side && f.name === name); }

  // Values of a field at a stored time; a few are kept.
  async frame(field, index) {
    const key = `${field.side}/${field.name}/${index}`;
    if (!this.kept.has(key)) {
      if (this.kept.size > 40) this.kept.delete(this.kept.keys().next().value);
      this.kept.set(key, await decode.floats(field.blocks[index], this.numCells));
    }
    return this.kept.get(key);
  }

  // All that is drawn of one moment: {water: {temperature, liquid_fraction}, rest: {...}}.
  async moment(index) {
    const all = { water: {}, rest: {} };
    for (const f of this.fields) all[f.side][f.name] = await this.frame(f, index);
    return all;
  }

  // Index of the stored time nearest to a time, s.
  nearest(time) {
    let best = 0;
    this.times.forEach((t, i) => { if (Math.abs(t - time) < Math.abs(this.times[best] - time)) best = i; });
    return best;
  }

  cellAlong(axis, x) {
    const e = this.edges[axis];
    if (x < e[0] || x > e[e.length - 1]) return -1;
    let low = 0, high = e.length - 1;
    while (high - low > 1) {
      const half = (low + high) >> 1;
      if (e[half] <= x) low = half; else high = half;
    }
    return low;
  }

  cellAt(point) {
    const i = this.cellAlong(0, point[0]), j = this.revolved ? 0 : this.cellAlong(1, point[1]), k = this.cellAlong(2, point[2]);
    return i < 0 || j < 0 || k < 0 ? -1 : (k * this.num[1] + j) * this.num[0] + i;
  }

  // Part index at a place, -1 the room.
  partAt(point) {
    const { low, high, num, parts } = this.lattice;
    const at = [0, 1, 2].map((a) => (num[a] === 1 ? 0 : Math.floor((point[a] - low[a]) / (high[a] - low[a]) * num[a])));
    if (at.some((v, a) => v < 0 || v >= num[a])) return -1;
    return parts[(at[2] * num[1] + at[1]) * num[0] + at[0]] - 1;
  }

  // The stored figures of the cell at a place, for the part that lies there; what is not stored is left out.
  read(point, moment) {
    const part = this.partAt(point), cell = this.cellAt(point);
    const found = { part: part < 0 ? undefined : this.parts[part], values: [] };
    if (part < 0 || cell < 0) return found;
    const water = found.part.look === 'water';
    if (!water && this.restPart[cell] !== part + 1) return found;
    const side = water ? 'water' : 'rest';
    const add = (set, value) => { if (Number.isFinite(value)) found.values.push({ name: set.name, label: set.label, units: set.units, value }); };
    for (const f of this.fields)
      if (f.side === side && (f.name !== 'liquid_fraction' || water || found.part.look === 'brine')) add(f, moment[side][f.name][cell]);
    if (water) for (const map of this.maps) add(map, this.mapValues[map.name][cell]);
    return found;
  }

  // A series at a time, linear between its rows.
  seriesAt(name, time) {
    const t = this.columns.time, v = this.columns[name];
    if (!t || !v || !this.rows) return NaN;
    let low = 0, high = this.rows - 1;
    if (time <= t[0]) return v[0];
    if (time >= t[high]) return v[high];
    while (high - low > 1) {
      const half = (low + high) >> 1;
      if (t[half] <= time) low = half; else high = half;
    }
    const share = (time - t[low]) / (t[high] - t[low] || 1);
    return v[low] + share * (v[high] - v[low]);
  }
}
