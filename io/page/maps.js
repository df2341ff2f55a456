// What a section can be coloured by, told from what a run has stored: each map with its scale, common to several runs.
const maps = {
  // [{id, title, ramp, unit, low, high, values(run, moment) -> {water, rest}}]; the first is ice and water, without a scale.
  list(runs) {
    const all = [{ id: 'phase', title: 'Ice and water' }];
    const names = (pick) => [...new Set(runs.flatMap((run) => run[pick].map((f) => f.name)))];
    for (const name of names('fields')) {
      if (name === 'liquid_fraction' && !runs.some((run) => run.field('water', name) || run.field('rest', name))) continue;
      const sets = runs.flatMap((run) => run.fields.filter((f) => f.name === name && f.range));
      if (!sets.length) continue;
      all.push(maps.scaled({ id: `field ${name}`, title: maps.titles[name] || name.replace(/_/g, ' '), field: name, unit: sets[0].units,
        values: (run, moment) => ({ water: moment.water[name], rest: moment.rest[name] }) }, sets));
    }
    for (const name of names('maps')) {
      const sets = runs.flatMap((run) => run.maps.filter((f) => f.name === name && f.range));
      if (!sets.length || name === 'solid_time' || (name === 'pocket' && !sets.some((f) => f.range[1] > 0))) continue; // one pocket is no map
      all.push(maps.scaled({ id: `map ${name}`, title: maps.titles[name] || name.replace(/_/g, ' '), unit: name === 'pocket' ? 'number' : sets[0].units, water_only: true,
        hint: sets[0].label, values: (run) => ({ water: run.mapValues[name] }) }, sets, runs));
    }
    return all;
  },

  titles: { temperature: 'Temperature', liquid_fraction: 'Liquid share', freeze_time: 'Freeze time', solid_time: 'Last liquid gone', front_speed: 'Growth speed', pocket: 'Pockets',
    gas_fraction: 'Bubbles', clarity: 'Clear or white', minerals: 'Minerals in the ice', clear_speed: 'Growth that stays clear' },

  scaled(map, sets, runs) {
    let low = Math.min(...sets.map((s) => s.range[0])), high = Math.max(...sets.map((s) => s.range[1]));
    if (map.unit === 'degC') {
      low = Math.min(Math.floor(low), 0);
      high = Math.max(Math.ceil(high), 0);
      const reach = Math.max(-low, high) || 1; // one degree is the same step of colour on both sides of freezing
      return { ...map, ramp: 'temperature', low, high, place: (v) => 0.5 + 0.5 * v / reach };
    }
    if (map.unit === '1' && map.field) return { ...map, ramp: 'liquid', low: 0, high: 1, place: (v) => v };
    if (map.id === 'map clarity') { // equal steps for equal ratios: the eye sees it so
      const to = (v) => Math.log10(Math.max(v, 0.03) / 0.03) / Math.log10(1e4);
      return { ...map, ramp: 'liquid', low: 0.03, high: 300, place: (v) => 1 - to(v), log: true, // white ice is drawn white
        along: to, stops: [0.03, 1, 30, 300], steps: [1, 30] };
    }
    if (map.id === 'map front_speed' || map.id === 'map clear_speed') { // the first moments are very fast: the scale ends where all but a few places lie; the same for both
      const values = runs.flatMap((run) => Array.from(run.mapValues.front_speed || []).filter(Number.isFinite)).sort((a, b) => a - b);
      high = values[Math.floor(0.97 * (values.length - 1))] || high;
      return { ...map, ramp: 'time', low: 0, high, place: (v) => v / high, over: true };
    }
    if (map.unit === 's') low = Math.min(low, 0);
    if (low === high) high = low + 1;
    return { ...map, ramp: 'time', low, high, place: (v) => (v - low) / (high - low) };
  },

  // Values at which lines of equal value run, in stored units.
  levels(map) {
    if (!map || !map.place) return null;
    if (map.steps) return map.steps;
    if (map.id === 'map pocket' || map.id === 'map gas_fraction' || map.field === 'liquid_fraction') return null;
    const shown = units.shown(map.unit, map.high);
    const t = units.ticks(map.low * shown.by + shown.plus, map.high * shown.by + shown.plus, 10);
    return t.ticks.map((v) => (v - shown.plus) / shown.by);
  },

  // The bar of colours with its figures.
  bar(map) {
    const { make, drawn } = element;
    const width = 300, height = 14, id = `ramp-${map.id.replace(/\W+/g, '-')}-${Math.random().toString(36).slice(2, 8)}`;
    const ramp = look.ramps[map.ramp], stops = [];
    const along = (v) => (map.log ? map.along(v) : (v - map.low) / (map.high - map.low));
    for (let i = 0; i <= 32; i++) {
      const value = map.log ? map.low * (map.high / map.low) ** (i / 32) : map.low + (map.high - map.low) * i / 32;
      const c = 3 * Math.round(255 * Math.min(1, Math.max(0, map.place(value))));
      stops.push(drawn('stop', { offset: i / 32, 'stop-color': `rgb(${ramp[c]},${ramp[c + 1]},${ramp[c + 2]})` }));
    }
    const svg = drawn('svg', { viewBox: `-14 0 ${width + 28} 38`, class: 'bar', role: 'img', 'aria-label': `Colour scale of ${map.title}` },
      drawn('defs', {}, drawn('linearGradient', { id }, ...stops)),
      drawn('rect', { x: 0, y: 0, width, height, fill: `url(#${id})`, class: 'edge' }));
    const shown = units.shown(map.unit, map.high);
    const t = map.stops ? { ticks: map.stops.map((v) => v * shown.by), text: (v) => units.digits(v, 1) }
      : units.ticks(map.low * shown.by + shown.plus, map.high * shown.by + shown.plus, 6);
    for (const v of t.ticks) {
      const x = width * along((v - shown.plus) / shown.by);
      svg.append(drawn('line', { x1: x, x2: x, y1: height, y2: height + 4, class: 'edge' }),
        drawn('text', { x, y: height + 16, 'text-anchor': 'middle' }, t.text(v)));
    }
    const words = `${map.title}, ${shown.sign || 'number'}${map.over ? '; faster places have the last colour' : ''}${map.log ? ': below 1 clear, above 30 white (per metre)' : ''}`;
    return make('div', { class: 'scale' }, make('div', {}, words), svg);
  },
};
