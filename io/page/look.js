// What things look like: ice, water, slush, moulds, foam. Colour and pattern together, so that neither is needed alone.
const look = {
  ramps: {},

  open(colours) {
    for (const [name, hex] of Object.entries(colours)) {
      const ramp = new Uint8Array(256 * 3);
      for (let i = 0; i < 768; i++) ramp[i] = parseInt(hex.substr(2 * i, 2), 16);
      look.ramps[name] = ramp;
    }
  },

  ground: {
    ice: [240, 248, 252], water: [38, 110, 178], brine: [86, 160, 148], slush: [250, 253, 252], metal: [148, 152, 160],
    plastic: [214, 184, 150], insulation: [246, 228, 150], held: [150, 120, 172],
  },
  ink: [26, 32, 40],
  mark: [208, 84, 0],

  // Patterns are fixed to the screen; px, py in pixels of the picture.
  speck(px, py) {
    let h = Math.imul(px + 1, 0x9E3779B1) ^ Math.imul(py + 1, 0x85EBCA77);
    h = Math.imul(h ^ (h >>> 15), 0x2C1B3C6D);
    return ((h ^ (h >>> 12)) >>> 8 & 255) / 255;
  },

  // Part of that look at a pixel; share: of ice in water or brine (undefined: not known). Writes three bytes.
  paint(out, at, kind, share, px, py, unit) {
    let c = look.ground[kind] || look.ground.plastic;
    let dark = 0;
    if (kind === 'water' && share !== undefined) {
      const t = Math.min(1, Math.max(0, (share - 0.42) / 0.16));
      const ice = look.ground.ice, water = look.ground.water;
      // Ice carries a few pale needles, water a faint ripple.
      const needle = t > 0.5 && (px + 2 * py) % (14 * unit) < unit && (px - py + 4000 * unit) % (23 * unit) < 9 * unit ? -16 : 0;
      const ripple = t < 0.5 && py % (9 * unit) < unit && (px + 5 * Math.floor(py / (9 * unit)) * unit) % (22 * unit) < 10 * unit ? 22 : 0;
      for (let i = 0; i < 3; i++) out[at + i] = water[i] + t * (ice[i] - water[i]) + needle + ripple;
      return;
    }
    if (kind === 'brine' && share > 0.004) {
      const size = 2 * unit;
      if (look.speck(Math.floor(px / size), Math.floor(py / size)) < Math.sqrt(share) * 0.9) c = look.ground.slush;
    } else if (kind === 'insulation') {
      const cell = 10 * unit, dx = (px % cell) - cell / 2, dy = ((py + (Math.floor(px / cell) % 2) * cell / 2) % cell) - cell / 2;
      const r = Math.sqrt(dx * dx + dy * dy);
      dark = Math.abs(r - 3 * unit) < 0.7 * unit ? 44 : 0;
    } else if (kind === 'metal') {
      dark = (px + py) % (6 * unit) < unit ? 34 : 0;
    } else if (kind === 'held') {
      dark = (px - py + 6000 * unit) % (6 * unit) < unit ? 34 : 0;
    }
    for (let i = 0; i < 3; i++) out[at + i] = c[i] - dark;
  },

  // A small picture of a look, for legends.
  swatch(kind, share) {
    const scale = 2, width = 34 * scale, height = 20 * scale;
    const canvas = element.make('canvas', { width, height, class: 'swatch', 'aria-hidden': 'true' });
    const context = canvas.getContext('2d'), image = context.createImageData(width, height);
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        look.paint(image.data, 4 * (y * width + x), kind, share, x, y, scale);
        image.data[4 * (y * width + x) + 3] = 255;
      }
    context.putImageData(image, 0, 0);
    return canvas;
  },
};
