// Figures with their units, metric or US. SI comes in; text goes out. NaN and undefined are never shown: callers leave them out.
const units = {
  us: false,

  // Significant digits without powers of ten, and with a true minus sign.
  digits(value, num) {
    if (value === 0) return '0';
    if (Math.abs(value) < 5e-7) return '0'; // finer than anything that is stored
    const decimals = Math.min(9, Math.max(0, num - 1 - Math.floor(Math.log10(Math.abs(value)) + 1e-12)));
    return value.toFixed(decimals).replace('-', '\u2212');
  },

  // What a stored unit (UDUNITS text) is shown in: factor and offset from it, and the sign.
  shown(unit, span) {
    const us = units.us;
    switch (unit) {
      case 'degC': return us ? { by: 1.8, plus: 32, sign: '\u00b0F' } : { by: 1, plus: 0, sign: '\u00b0C' };
      case 's': return { by: 1 / 3600, plus: 0, sign: 'h' };
      case 'm': return us ? { by: 1 / 0.0254, plus: 0, sign: 'in' } : span > 9.9995 ? { by: 1, plus: 0, sign: 'm' } : { by: 1000, plus: 0, sign: 'mm' };
      case 'm s-1': return us ? { by: 3600 / 0.0254, plus: 0, sign: 'in/h' } : { by: 3.6e6, plus: 0, sign: 'mm/h' };
      case 'm-1': return us ? { by: 0.3048, plus: 0, sign: '1/ft' } : { by: 1, plus: 0, sign: '1/m' };
      case 'W': return us ? { by: 3.412141633, plus: 0, sign: 'BTU/h' } : { by: 1, plus: 0, sign: 'W' };
      case 'J': return us ? { by: 1 / 1055055.85262, plus: 0, sign: 'kBTU' } : { by: 1 / 3.6e6, plus: 0, sign: 'kWh' };
      case 'kg': return us ? { by: 1 / 0.45359237, plus: 0, sign: 'lb' } : { by: 1, plus: 0, sign: 'kg' };
      case 'Pa': return us ? { by: 1 / 6894.757293168, plus: 0, sign: 'psi absolute' } : { by: 1e-5, plus: 0, sign: 'bar absolute' };
      case 'm2': return us ? { by: 10.763910417, plus: 0, sign: 'ft\u00b2' } : { by: 1, plus: 0, sign: 'm\u00b2' };
      case 'm3': return us ? { by: 264.172052358, plus: 0, sign: 'US gal' } : { by: 1000, plus: 0, sign: 'L' };
      case 'N': return us ? { by: 0.224808943, plus: 0, sign: 'lbf' } : { by: 1, plus: 0, sign: 'N' };
      case 'K': return us ? { by: 1.8, plus: 0, sign: '\u00b0F difference' } : { by: 1, plus: 0, sign: 'K' };
      case '1': return { by: 100, plus: 0, sign: '%' };
      default: return { by: 1, plus: 0, sign: unit };
    }
  },

  text(value, unit, num = 3) {
    const shown = units.shown(unit, Math.abs(value));
    return `${units.digits(value * shown.by + shown.plus, num)}\u00a0${shown.sign}`;
  },

  // Temperatures to a tenth: significant digits mislead near zero.
  temperature(celsius) {
    const shown = units.shown('degC');
    return `${(celsius * shown.by + shown.plus).toFixed(1).replace(/^-0.0$/, '0.0').replace('-', '\u2212')}\u00a0${shown.sign}`;
  },

  percent(share) {
    if (share > 0 && share < 5e-4) return 'under\u00a00.1\u00a0%';
    const text = share > 0 && share < 1 ? Math.min(100 * share, 99.9).toFixed(1) : (100 * share).toFixed(0); // 99.96 % must not read 100 %
    return `${text.replace(/^-0$/, '0').replace('-', '\u2212')}\u00a0%`;
  },

  duration(seconds) {
    if (seconds < 60) return `${units.digits(seconds, 2)}\u00a0s`;
    const minutes = Math.round(seconds / 60);
    if (minutes < 60) return `${minutes}\u00a0min`;
    const hours = Math.floor(minutes / 60);
    if (hours < 240) return `${hours}\u00a0h\u00a0${minutes % 60}\u00a0min`;
    return `${Math.floor(hours / 24)}\u00a0d\u00a0${hours % 24}\u00a0h`;
  },

  // A coordinate: to a tenth of a millimetre, a hundredth of an inch.
  where(metres) {
    if (units.us) return `${(metres / 0.0254).toFixed(2).replace(/^-0\.00$/, '0.00').replace('-', '\u2212')}\u00a0in`;
    const mm = 1000 * metres;
    return `${mm.toFixed(Math.abs(mm) < 100 ? 1 : 0).replace(/^-0\.0$/, '0.0').replace('-', '\u2212')}\u00a0mm`;
  },

  place(point) {
    if (point.length === 2)
      return point[0] < 5e-4 ? `the axis, z\u00a0=\u00a0${units.where(point[1])}` : `r\u00a0=\u00a0${units.where(point[0])}, z\u00a0=\u00a0${units.where(point[1])}`;
    return ['x', 'y', 'z'].map((axis, i) => `${axis}\u00a0=\u00a0${units.where(point[i])}`).join(', ');
  },

  // A summary's figure by the unit in its key: "time_s", "evaporating_C_min", "heat_J", "fraction".
  ofKey(key, value) {
    if (typeof value === 'boolean') return value ? 'yes' : 'no';
    if (typeof value === 'string') return value;
    const ends = key.replace(/_(min|max|low|high|mean)$/, '');
    if (/_m_per_s$/.test(ends)) return units.text(value, 'm s-1', 3);
    if (/_s$/.test(ends)) return units.duration(value);
    if (/_C$/.test(ends)) return units.temperature(value);
    if (/_J_per_kg$/.test(ends)) return `${units.digits(value / 3600, 4)}\u00a0kWh per tonne`;
    if (/_A$/.test(ends)) return `${units.digits(value, 3)}\u00a0A`;
    if (/_deg$/.test(ends)) return `${units.digits(value, 3)}\u00b0`;
    if (/fraction$|share$/.test(ends)) return units.percent(value);
    const match = ends.match(/_(J|W|Pa|kg|m2|m3|m|N|K)$/);
    return match ? units.text(value, match[1], 4) : units.digits(value, 4);
  },

  // "mean_power_W" -> "mean power"; "evaporating_C_min" -> "evaporating, min".
  nameOfKey(key) {
    const end = key.match(/_(min|max|low|high|mean)$/);
    const plain = (end ? key.slice(0, end.index) : key).replace(/_(at_s|m_per_s|s|C|J_per_kg|J|W|Pa|kg|m2|m3|m|N|K|A|deg)$/, (all) => (all === '_at_s' ? ' at' : ''));
    return plain.replace(/_/g, ' ') + (end ? `, ${end[1]}` : '');
  },

  // 1-2-5 steps across low..high in shown units.
  ticks(low, high, most) {
    const span = high - low || 1;
    const raw = span / most;
    const power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((s) => s * power).find((s) => s >= raw * 0.999);
    const ticks = [];
    for (let i = Math.ceil(low / step - 1e-9); i * step <= high + 1e-9 * span; i++) ticks.push(i * step);
    return { ticks, step, text: (v) => (Math.abs(v) < 1e-9 * span ? 0 : v).toFixed(Math.max(0, -Math.floor(Math.log10(step) + 1e-9))).replace('-', '\u2212') };
  },
};
