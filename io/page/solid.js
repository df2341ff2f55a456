// The remaining water as a surface inside the outline of its vessel: a small renderer with a depth buffer, for rigs in (x, y, z).
class Solid {
  constructor(run, size) {
    this.run = run;
    this.turn = 0.7;
    this.tilt = 0.45;
    this.size = size;
    this.canvas = element.make('canvas', { class: 'section solid', width: size, height: Math.round(0.72 * size), tabindex: '0', role: 'application',
      'aria-roledescription': 'picture to turn', 'aria-label': 'Remaining water inside the outline of the vessel. Arrow keys turn it.' });
    this.outline = this.outlineOf();
    const box = [0, 1, 2].map((a) => {
      const at = this.outline.points.map((p) => p[a]);
      return at.length ? [Math.min(...at), Math.max(...at)] : [run.lattice.low[a], run.lattice.high[a]];
    });
    this.centre = box.map(([low, high], a) => (run.mirror[a] ? run.edges[a][0] : (low + high) / 2));
    this.radius = Math.hypot(...box.map(([low, high], a) => (run.mirror[a] ? 2 : 1) * (high - low))) / 2 || 1;
  }

  // Surface nets: one point per cell of the lattice that the level passes through, one quad per edge that crosses it.
  static surface(num, value, place) {
    const [nx, ny, nz] = num, index = new Int32Array(nx * ny * nz).fill(-1), points = [], quads = [];
    const id = (i, j, k) => (k * ny + j) * nx + i;
    for (let k = 0; k + 1 < nz; k++)
      for (let j = 0; j + 1 < ny; j++)
        for (let i = 0; i + 1 < nx; i++) {
          let inside = 0, sum = [0, 0, 0], crossings = 0;
          const corner = [];
          for (let c = 0; c < 8; c++) {
            const v = value[id(i + (c & 1), j + (c >> 1 & 1), k + (c >> 2))];
            corner.push(v);
            if (v > 0) inside++;
          }
          if (inside === 0 || inside === 8) continue;
          for (let c = 0; c < 8; c++)
            for (const bit of [1, 2, 4]) {
              if (c & bit) continue;
              const u = corner[c], v = corner[c | bit];
              if ((u > 0) === (v > 0)) continue;
              const t = u / (u - v);
              sum[0] += (c & 1) + (bit === 1 ? t : 0);
              sum[1] += (c >> 1 & 1) + (bit === 2 ? t : 0);
              sum[2] += (c >> 2) + (bit === 4 ? t : 0);
              crossings++;
            }
          index[id(i, j, k)] = points.length;
          points.push(place(i + sum[0] / crossings, j + sum[1] / crossings, k + sum[2] / crossings));
        }
    const quad = (a, b, c, d) => { const q = [a, b, c, d].map((p) => index[p]); if (!q.includes(-1)) quads.push(q); };
    for (let k = 1; k + 1 < nz; k++)
      for (let j = 1; j + 1 < ny; j++)
        for (let i = 1; i + 1 < nx; i++) {
          const here = value[id(i, j, k)] > 0;
          if (here !== value[id(i + 1, j, k)] > 0) quad(id(i, j - 1, k - 1), id(i, j, k - 1), id(i, j, k), id(i, j - 1, k));
          if (here !== value[id(i, j + 1, k)] > 0) quad(id(i - 1, j, k - 1), id(i, j, k - 1), id(i, j, k), id(i - 1, j, k));
          if (here !== value[id(i, j, k + 1)] > 0) quad(id(i - 1, j - 1, k), id(i, j - 1, k), id(i, j, k), id(i - 1, j, k));
        }
    return { points, quads };
  }

  // Pads a field by one layer, so that surfaces close at the edge of the grid; a mirror's side repeats its neighbour.
  padded(num, at) {
    const size = num.map((n) => n + 2), out = new Float32Array(size[0] * size[1] * size[2]).fill(-0.5), { mirror } = this.run;
    for (let k = 0; k < size[2]; k++)
      for (let j = 0; j < size[1]; j++)
        for (let i = 0; i < size[0]; i++) {
          const from = [i - 1, j - 1, k - 1];
          for (let a = 0; a < 3; a++) if (from[a] < 0 && mirror[a]) from[a] = 0;
          if (from.every((v, a) => v >= 0 && v < num[a])) out[(k * size[1] + j) * size[0] + i] = at(...from);
        }
    return { size, out };
  }

  outlineOf() {
    const l = this.run.lattice, every = Math.max(1, Math.ceil(Math.cbrt(l.num[0] * l.num[1] * l.num[2] / 220000)));
    const num = l.num.map((n) => Math.max(1, Math.floor(n / every))), water = this.run.parts.map((p) => p.look === 'water');
    const step = [0, 1, 2].map((a) => (l.high[a] - l.low[a]) / l.num[a] * every);
    const { size, out } = this.padded(num, (i, j, k) => {
      const part = l.parts[((k * every + (every >> 1)) * l.num[1] + j * every + (every >> 1)) * l.num[0] + i * every + (every >> 1)];
      return part && water[part - 1] ? 0.5 : -0.5;
    });
    return Solid.surface(size, out, (i, j, k) => [i - 0.5, j - 0.5, k - 0.5].map((v, a) => l.low[a] + v * step[a]));
  }

  // The half-frozen surface of the water at a moment.
  waterOf(moment) {
    const { num, middles } = this.run, liquid = moment.water.liquid_fraction;
    if (!liquid) return { points: [], quads: [] };
    const { size, out } = this.padded(num, (i, j, k) => {
      const v = liquid[(k * num[1] + j) * num[0] + i];
      return v === v ? v - 0.5 : -0.5;
    });
    const along = (a, v) => {
      const m = middles[a], x = v - 1, i = Math.min(m.length - 2, Math.max(0, Math.floor(x)));
      return m.length < 2 ? m[0] : m[i] + (x - i) * (m[i + 1] - m[i]);
    };
    return Solid.surface(size, out, (i, j, k) => [along(0, i), along(1, j), along(2, k)]);
  }

  see(point) {
    const [x, y, z] = point.map((v, a) => (v - this.centre[a]) / this.radius);
    const ct = Math.cos(this.turn), st = Math.sin(this.turn), ce = Math.cos(this.tilt), se = Math.sin(this.tilt);
    const u = ct * x + st * y, v = -st * x + ct * y, half = this.canvas.width / 2;
    return [half + 0.95 * half * u, this.canvas.height / 2 - 0.95 * half * (ce * z + se * v), ce * v - se * z];
  }

  images() { // which halves are drawn: each mirror doubles them
    let all = [[1, 1, 1]];
    this.run.mirror.forEach((m, a) => { if (m) all = all.flatMap((s) => [s, s.map((v, b) => (a === b ? -v : v))]); });
    return all;
  }

  // Calls pixel(index, depth, facing) for each pixel of each quad; facing: |cosine| between its normal and the sight.
  raster(mesh, pixel) {
    const n = this.canvas.width;
    for (const sign of this.images()) {
      const at = mesh.points.map((p) => this.see(p.map((v, a) => (sign[a] < 0 ? 2 * this.run.edges[a][0] - v : v))));
      for (const q of mesh.quads) {
        const [a, b, c, d] = q.map((i) => at[i]);
        const e = [c[0] - a[0], c[1] - a[1], c[2] - a[2]], f = [d[0] - b[0], d[1] - b[1], d[2] - b[2]];
        const k = 0.95 * n / 2, normal = [e[1] * f[2] * k - e[2] * k * f[1], e[2] * k * f[0] - e[0] * f[2] * k, e[0] * f[1] - e[1] * f[0]];
        const facing = Math.abs(normal[2]) / (Math.hypot(...normal) || 1);
        this.triangle(a, b, c, facing, normal, pixel);
        this.triangle(a, c, d, facing, normal, pixel);
      }
    }
  }

  triangle(a, b, c, facing, normal, pixel) {
    const { width: n, height: tall } = this.canvas;
    const area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    if (!area) return;
    const x0 = Math.max(0, Math.floor(Math.min(a[0], b[0], c[0]))), x1 = Math.min(n - 1, Math.ceil(Math.max(a[0], b[0], c[0])));
    const y0 = Math.max(0, Math.floor(Math.min(a[1], b[1], c[1]))), y1 = Math.min(tall - 1, Math.ceil(Math.max(a[1], b[1], c[1])));
    for (let y = y0; y <= y1; y++)
      for (let x = x0; x <= x1; x++) {
        const u = ((b[0] - x) * (c[1] - y) - (b[1] - y) * (c[0] - x)) / area, v = ((c[0] - x) * (a[1] - y) - (c[1] - y) * (a[0] - x)) / area;
        if (u < -1e-6 || v < -1e-6 || u + v > 1 + 1e-6) continue;
        pixel(y * n + x, u * a[2] + v * b[2] + (1 - u - v) * c[2], facing, normal);
      }
  }

  draw(moment) {
    if (this.moment !== moment) {
      this.water = this.waterOf(moment);
      this.moment = moment;
    }
    const { width, height } = this.canvas, context = this.canvas.getContext('2d'), image = context.createImageData(width, height), out = image.data;
    const depth = new Float32Array(width * height).fill(Infinity), glass = new Float32Array(width * height);
    this.raster(this.water, (i, z, facing, normal) => {
      if (z >= depth[i]) return;
      depth[i] = z;
      const bright = 0.45 + 0.55 * facing - 0.12 * (normal[1] / (Math.hypot(...normal) || 1)) * Math.sign(normal[2] || 1);
      for (let k = 0; k < 3; k++) out[4 * i + k] = Math.min(255, look.ground.water[k] * bright + 30 * facing ** 6);
      out[4 * i + 3] = 255;
    });
    // The outline is glass: seen most where it is looked along.
    this.raster(this.outline, (i, z, facing) => { glass[i] = 1 - (1 - glass[i]) * (1 - (0.05 + 0.5 * (1 - facing) ** 3)); });
    const ink = document.documentElement.dataset.theme === 'dark' ? [200, 216, 230] : [60, 84, 110];
    for (let i = 0; i < width * height; i++) {
      if (!glass[i]) continue;
      const g = 0.75 * glass[i], under = out[4 * i + 3] / 255, alpha = g + under * (1 - g);
      for (let k = 0; k < 3; k++) out[4 * i + k] = (ink[k] * g + out[4 * i + k] * under * (1 - g)) / alpha;
      out[4 * i + 3] = 255 * alpha;
    }
    context.putImageData(image, 0, 0);
    this.drawCoils(context);
  }

  // Tube as a line over everything: where it runs matters more than what hides it.
  drawCoils(context) {
    context.lineJoin = 'round';
    for (const coil of this.run.coils)
      for (const sign of coil.points.length ? this.images() : []) {
        context.beginPath();
        coil.points.forEach((p, i) => {
          const [x, y] = this.see(p.map((v, a) => (sign[a] < 0 ? 2 * this.run.edges[a][0] - v : v)));
          if (i) context.lineTo(x, y); else context.moveTo(x, y);
        });
        context.strokeStyle = 'rgba(196,122,69,.85)';
        context.lineWidth = 2.5 * this.canvas.width / 460;
        context.stroke();
      }
  }
}
