// The practitioner's questions in their order, answered from summary.json and from nothing else. What a summary lacks is said to be
// lacking, never made up. Keys that this file does not know are shown by tables.js.
const answers = {
  list(run) {
    const s = run.summary;
    const { make } = element;
    const sections = [
      ['How long?', answers.howLong(run, s)],
      ['Where is the last water?', answers.lastWater(run, s)],
      ['Clear or white?', answers.clear(run, s)],
      ['Will the mould come out?', answers.mould(run, s)],
      ['What does the plant carry?', answers.plant(run, s)],
      ['Where does the cold go?', answers.cold(run, s)],
      ['What to change?', answers.change(run, s)],
    ];
    return sections.map(([title, body]) => make('article', { class: 'answer' }, make('h2', {}, title), ...body));
  },

  lead: (text) => element.make('p', { class: 'lead' }, text),
  say: (text) => element.make('p', {}, text),
  quiet: (text) => element.make('p', { class: 'quiet' }, text),

  // "; between 30 h and 35 h" when the run was asked for a band.
  band(run, path, show) {
    const found = path.split('.').reduce((o, k) => (o && typeof o === 'object' ? o[k] : undefined), run.summary.band);
    return Array.isArray(found) && found.length === 3 ? ` (between ${show(found[0])} and ${show(found[2])}, by the spreads given)` : '';
  },

  bodies: (run, s) => (s.bodies && s.bodies.length ? s.bodies : []),
  named: (list, b) => (list.length > 1 ? `${b.name}: ` : ''),
  top: (text) => text.charAt(0).toUpperCase() + text.slice(1),

  howLong(run, s) {
    const bodies = answers.bodies(run, s), out = [];
    for (const b of bodies) {
      const f = b.freeze || {};
      if (f.complete && f.time_s !== undefined)
        out.push(answers.lead(answers.top(`${answers.named(bodies, b)}frozen solid after ${units.duration(f.time_s)}${bodies.length === 1 ? answers.band(run, 'freeze.time_s', units.duration) : ''}.`)));
      else if (f.complete) out.push(answers.lead(answers.top(`${answers.named(bodies, b)}frozen solid.`)));
      else out.push(answers.lead(answers.top(`${answers.named(bodies, b)}not frozen solid in the time given${f.fraction !== undefined ? `: ${units.percent(f.fraction)} of it is ice` : ''}.`)));
      const marks = Object.entries(f.marks_s || {}).filter(([, v]) => Number.isFinite(v));
      const words = { 0.5: 'half of it', 0.9: '90\u00a0%', 0.99: '99\u00a0%' };
      if (marks.length) out.push(answers.say(`${answers.top(marks.map(([k, v]) => `${words[k] || units.percent(Number(k))} is ice after ${units.duration(v)}`).join(', '))}.`));
      const more = [];
      if (b.mass_kg !== undefined) more.push(`It weighs ${units.text(b.mass_kg, 'kg')}.`);
      if (b.level_rise_m) more.push(`Its surface rises by ${units.text(b.level_rise_m, 'm', 2)} as it freezes.`);
      if (more.length) out.push(answers.say(more.join(' ')));
    }
    if (s.melt && s.melt.time_s !== undefined) out.push(answers.say(`It has melted away after ${units.duration(s.melt.time_s)}.`));
    if (!out.length) out.push(answers.quiet('This run holds no water to freeze.'));
    if (s.stages && s.stages.length > 1)
      out.push(answers.say(`Stages: ${s.stages.map((g) => `${g.name || g.kind}${g.end_at_s !== undefined && g.start_at_s !== undefined ? ` ${g.end_at_s > g.start_at_s ? units.duration(g.end_at_s - g.start_at_s) : 'at once'}` : ''}`).join(', then ')}.`));
    return out;
  },

  // Whether a body's vessel is closed is a fact of the case, not of the summary.
  closed: (run, name) => run.bodies.some((b) => b.name === name && !b.open_top),

  lastWater(run, s) {
    const bodies = answers.bodies(run, s), out = [];
    for (const b of bodies) {
      const l = b.last_liquid;
      if (!l || !l.position_m) continue;
      const deep = l.distance_to_surface_m !== undefined ? `, ${units.text(l.distance_to_surface_m, 'm', 2)} from the nearest surface` : '';
      const still = !(b.freeze && b.freeze.complete);
      out.push(answers.lead(answers.top(`${answers.named(bodies, b)}${still ? 'what is left lies' : 'the last water sits'} at ${units.place(l.position_m)}${deep}.`)));
      if (l.trapped !== undefined)
        out.push(answers.say(l.trapped
          ? answers.closed(run, b.name) ? 'It has no way out: the vessel is closed. It presses, cracks the block or bursts the vessel.'
            : 'It is trapped: ice shuts it in. It presses, bulges or cracks the block.'
          : 'It is not trapped.'));
      const pockets = (b.pockets || []).slice(1);
      if (pockets.length) {
        const trapped = pockets.filter((p) => p.trapped), largest = Math.max(...trapped.map((p) => p.mass_kg || 0));
        out.push(answers.say(`${pockets.length} further pocket${pockets.length > 1 ? 's' : ''} parted from it, ${trapped.length} of them trapped${trapped.length && largest > 0 ? `, the largest with ${units.text(largest, 'kg')}` : ''}.`));
      }
    }
    return out.length ? out : [answers.quiet('The run ended before there was a last water.')];
  },

  clear(run, s) {
    const bodies = answers.bodies(run, s), out = [];
    for (const b of bodies) {
      const c = b.clear;
      if (!c || c.fraction === undefined) continue;
      const shares = [['clear', c.fraction], ['hazy', c.hazy_fraction], ['white', c.white_fraction]].filter(([, v]) => v !== undefined);
      out.push(answers.lead(answers.top(`${answers.named(bodies, b)}of the ice ${shares.map(([n, v]) => `${units.percent(v)} is ${n}`).join(', ')}${bodies.length === 1 ? answers.band(run, 'clear.fraction', units.percent).replace('between', 'clear between') : ''}.`)));
      if (c.fraction_low !== undefined && c.fraction_high !== undefined)
        out.push(answers.say(`How soon bubbles form is uncertain: the clear share lies between ${units.percent(Math.min(c.fraction_low, c.fraction))} and ${units.percent(Math.max(c.fraction_high, c.fraction))}${c.white_fraction_low !== undefined && c.white_fraction_high !== undefined ? `, the white one between ${units.percent(Math.min(c.white_fraction_low, c.white_fraction))} and ${units.percent(Math.max(c.white_fraction_high, c.white_fraction))}` : ''}.`));
      if (c.largest_piece_m) {
        const p = c.largest_piece_m;
        out.push(answers.say(p.length === 2 ? `The largest clear piece about the axis is ${units.text(2 * p[0], 'm')} across and ${units.text(p[1], 'm')} high.`
          : `The largest clear piece that can be sawn out measures ${p.map((v) => units.text(v, 'm')).join(' by ')}.`));
      }
      out.push(...answers.whiteAndGrowth(c));
      if (c.fraction_with_exchange !== undefined && c.exchange_time_s !== undefined)
        out.push(answers.say(`Exchanging the core water after ${units.duration(c.exchange_time_s)}${c.exchange_fraction !== undefined ? ` (${units.percent(c.exchange_fraction)} frozen)` : ''} ${c.fraction_with_exchange - c.fraction >= 0.02 ? 'pays' : 'does not pay'}: it makes ${units.percent(c.fraction_with_exchange)} clear.`));
      if (c.stop_time_s !== undefined)
        out.push(answers.say(`To keep clear ice only, stop after ${units.duration(c.stop_time_s)}${c.stop_fraction !== undefined ? ` (${units.percent(c.stop_fraction)} frozen)` : ''} and pour off the rest${c.stop_time_low_s < c.stop_time_s ? `; if bubbles form sooner, after ${units.duration(c.stop_time_low_s)}` : ''}${c.stop_time_high_s > c.stop_time_s ? `; if later, after ${units.duration(c.stop_time_high_s)}` : ''}.`));
    }
    return out.length ? out : [answers.quiet('Not asked for in this run: name the air in the water (air: under the body) to have it foretold.')];
  },

  // Where the white lies, and growth against its clear limit while one tenth after the other froze.
  whiteAndGrowth(c) {
    const out = [], low = c.white_low_m, high = c.white_high_m;
    if (low && high) {
      const names = low.length === 2 ? ['radius', 'z'] : ['x', 'y', 'z'];
      out.push(answers.say(`Nine tenths of the white ice lie ${names.map((n, i) => `between ${n}\u00a0=\u00a0${units.text(low[i], 'm', 3)} and ${units.text(high[i], 'm', 3)}`).join(', ')}.`));
    }
    const grew = c.growth_m_per_s || {}, limit = c.clear_limit_m_per_s || {}, tenths = Object.keys(grew).filter((k) => limit[k] !== undefined).sort();
    if (!tenths.length) return out;
    const rows = tenths.map((k) => [`${Math.round(100 * k) - 10} to ${Math.round(100 * k)}\u00a0%`, units.text(grew[k], 'm s-1', 2), units.text(limit[k], 'm s-1', 2)]);
    out.push(element.make('details', {}, element.make('summary', {}, 'How fast it grew, and how fast it may grow to stay clear'), element.table(['Frozen', 'Growth', 'Clear up to'], rows, 'Mean growth while a tenth of the water froze')));
    return out;
  },

  mould(run, s) {
    const words = { free: 'soft enough to draw the mould freely', stiff: 'stiff: the mould comes out with force', locked: 'locked: the mould cannot be drawn before the bath is warmed' };
    const baths = s.baths || [], out = [];
    for (const b of baths) {
      if (b.draw) out.push(answers.lead(answers.top(`${baths.length > 1 ? `${b.name}: ` : ''}the bath is ${words[b.draw] || b.draw}.`)));
      const facts = [];
      if (b.ice_fraction_mean !== undefined) facts.push(`${units.percent(b.ice_fraction_mean)} of the bath is ice`);
      if (b.ice_fraction_max !== undefined) facts.push(`${units.percent(b.ice_fraction_max)} at its iciest place`);
      if (b.mass_fraction !== undefined) facts.push(`its liquid is ${units.percent(b.mass_fraction)} strong`);
      if (b.freezing_onset_C !== undefined) facts.push(`it begins to freeze at ${units.temperature(b.freezing_onset_C)}`);
      if (facts.length) out.push(answers.say(`${answers.top(baths.length > 1 ? `${b.name}: ${facts.join(', ')}` : facts.join(', '))}.`));
    }
    for (const b of baths) out.push(...answers.drawing(baths, b));
    if (s.release && s.release.time_s !== undefined) out.push(answers.lead(`The block lets go of its mould ${units.duration(s.release.time_s)} after warming begins.`));
    else if (s.release) out.push(answers.say('The block had not let go of its mould when its stage ended.'));
    return out.length ? out : [answers.quiet('No bath stands round a mould in this run, and no release was asked for: the figures do not tell.')];
  },

  // What drawing takes and what would free it; a still bath is answered for salt that stays and salt that moves.
  drawing(baths, b) {
    const out = [], ways = { closed: 'if the salt stays where it is', mixed: 'if the salt mixes' };
    for (const a of [b.answer, b.other_answer]) {
      if (!a) continue;
      const facts = [];
      if (b.other_answer) facts.push(`${ways[a.salt_mode] || a.salt_mode} it is ${a.draw}`);
      if (a.bridged) facts.push('ice joins coil and mould');
      if (a.force_N && a.force_N[1] > 0) facts.push(`drawing takes ${units.text(a.force_N[0], 'N', 2)} to ${units.text(a.force_N[1], 'N', 2)} besides the weight`);
      if (a.draw !== 'free' && a.free_above_C !== undefined) facts.push(`it is free when held at ${units.temperature(a.free_above_C)} or warmer`);
      if (a.draw !== 'free' && a.salt_to_add_kg > 0) facts.push(`or with ${units.text(a.salt_to_add_kg, 'kg', 2)} more salt`);
      if (facts.length) out.push(answers.say(`${answers.top(`${baths.length > 1 ? `${b.name}: ` : ''}${facts.join(', ')}`)}.`));
    }
    return out;
  },

  plant(run, s) {
    const p = s.plant;
    if (!p) return [answers.quiet('No plant in this run.')];
    const out = [], of = (key, show) => (p[key] === undefined ? '' : show(p[key]));
    const spread = (key, show) => (p[key] === undefined ? '' : `${show(p[key])}${p[`${key}_min`] !== undefined && p[`${key}_max`] !== undefined ? ` (${show(p[`${key}_min`])} to ${show(p[`${key}_max`])})` : ''}`);
    const gauge = (pa) => {
      if (!Number.isFinite(run.site_pressure)) return units.text(pa, 'Pa');
      return units.us ? `${units.digits((pa - run.site_pressure) / 6894.757293168, 3)}\u00a0psi gauge` : `${units.digits((pa - run.site_pressure) * 1e-5, 3)}\u00a0bar gauge`;
    };
    if (p.heat_J !== undefined) out.push(answers.lead(`It takes out ${units.text(p.heat_J, 'J')} of heat${of('work_J', (v) => ` with ${units.digits(v / 3.6e6, 3)}\u00a0kWh of power`)}${s.stages && s.stages.length > 1 ? ' in the freeze' : ''}${answers.band(run, 'plant.heat_J', (v) => units.text(v, 'J'))}.`));
    const parts = [];
    if (p.mean_power_W !== undefined) parts.push(`draws ${units.digits(p.mean_power_W, 3)}\u00a0W on average`);
    if (p.evaporating_C !== undefined) parts.push(`evaporates at ${spread('evaporating_C', units.temperature)}`);
    if (p.suction_Pa !== undefined) parts.push(`with a suction of ${spread('suction_Pa', gauge)}`);
    if (p.condensing_C !== undefined) parts.push(`condenses at ${spread('condensing_C', units.temperature)}`);
    if (p.discharge_Pa !== undefined) parts.push(`with a discharge of ${spread('discharge_Pa', gauge)}`);
    if (parts.length) out.push(answers.say(`On average, and in brackets the range over the freeze: it ${parts.join(', ')}.`));
    const cost = [];
    if (p.electricity_J !== undefined) cost.push(`${units.digits(p.electricity_J / 3.6e6, 3)}\u00a0kWh of electricity${s.stages && s.stages.length > 1 ? ' up to its end' : ''}`);
    if (p.electricity_per_ice_J_per_kg !== undefined)
      cost.push(units.us ? `${units.digits(p.electricity_per_ice_J_per_kg / 3968.32, 3)}\u00a0kWh per US ton of ice` : `${units.digits(p.electricity_per_ice_J_per_kg / 3600, 3)}\u00a0kWh per tonne of ice`);
    if (p.cop !== undefined) cost.push(`${units.digits(p.cop, 3)} of heat for one of work`);
    if (p.running_share !== undefined) cost.push(`running ${units.percent(p.running_share)} of the time`);
    if (p.running_current_A !== undefined) cost.push(`${units.digits(p.running_current_A, 2)}\u00a0A`);
    if (p.starting_current_A !== undefined) cost.push(`${units.digits(p.starting_current_A, 2)}\u00a0A at the start`);
    if (cost.length) out.push(answers.say(`${answers.top(cost.join(', '))}.`));
    return out;
  },

  // Paths of the ledger, largest first: [name, joules]. What melts a piece outside its mould is no cost of the rig.
  paths: (s) => Object.entries(s.ledger || {}).filter(([k]) => !/^stored in | piece$/.test(k) && k !== 'residual_relative').sort((a, b) => Math.abs(b[1]) - Math.abs(a[1])),
  stored: (s) => Object.entries(s.ledger || {}).filter(([k]) => /^stored in /.test(k) && !/ piece$/.test(k)).sort((a, b) => Math.abs(b[1]) - Math.abs(a[1])),

  cold(run, s) {
    const { make } = element, paths = answers.paths(s), stored = answers.stored(s);
    if (!paths.length) return [answers.quiet('This summary holds no heat ledger.')];
    // What the cold was spent on: heat that leaked in, and heat taken out of things.
    const costs = [...paths.filter(([, v]) => v > 0).map(([k, v]) => [`leak, ${k}`, v]), ...stored.filter(([, v]) => v < 0).map(([k, v]) => [k.replace(/^stored in /, 'cooling and freezing: '), -v])].sort((a, b) => b[1] - a[1]);
    const out = [], sum = costs.reduce((t, [, v]) => t + v, 0);
    if (costs.length) {
      const leaks = costs.filter(([k]) => k.startsWith('leak')), leak = leaks.reduce((t, [, v]) => t + v, 0);
      out.push(answers.lead(`The largest cost is ${costs[0][0].replace('cooling and freezing: ', 'cooling and freezing the ')}: ${units.text(costs[0][1], 'J')}, ${units.percent(costs[0][1] / sum)} of the cold spent.`));
      if (leaks.length) out.push(answers.say(`Leaks take ${units.percent(leak / sum)} in all; the largest is ${leaks[0][0].replace('leak, ', '')} with ${units.text(leaks[0][1], 'J')}.`));
      const told = costs.filter(([, v]) => v >= 0.01 * sum), rest = costs.slice(told.length).reduce((t, [, v]) => t + v, 0);
      if (rest > 0) told.push([`all others (${costs.length - told.length})`, rest]);
      out.push(make('ul', { class: 'bars' }, ...told.map(([k, v]) => make('li', {}, make('span', { class: 'name' }, k),
        make('span', { class: 'track' }, make('span', { class: `fill${k.startsWith('leak') ? ' leak' : ''}`, style: `width:${(100 * v / costs[0][1]).toFixed(2)}%` })),
        make('span', { class: 'n' }, `${units.text(v, 'J')}, ${units.percent(v / sum)}`)))));
    }
    const sinks = paths.filter(([, v]) => v < 0);
    if (sinks.length) out.push(answers.say(`Taken out by: ${sinks.map(([k, v]) => `${k} ${units.text(-v, 'J')}`).join(', ')}.`));
    if (s.ledger.residual_relative !== undefined) out.push(answers.quiet(`The books close to ${Math.abs(s.ledger.residual_relative).toExponential(0)} of the heat moved.`));
    return out;
  },

  // Advice that follows from figures of the summary; each says which.
  change(run, s) {
    const { make } = element, tips = [], bodies = answers.bodies(run, s);
    for (const b of bodies) {
      if (b.freeze && b.freeze.complete === false) tips.push(`${b.name} is not solid: give it more time, or make its surroundings colder.`);
      if (b.last_liquid && b.last_liquid.trapped)
        tips.push(answers.closed(run, b.name) ? `${b.name} freezes in a closed vessel: open it, or leave room for a tenth more than the water.`
          : `The last water of ${b.name} is shut in by ice: keep its open surface from freezing first (a lid of foam, a stirrer), or stop before it closes.`);
      const c = b.clear;
      if (c && c.white_fraction > 0.05 && c.stop_time_s !== undefined) tips.push(`${units.percent(c.white_fraction)} of ${b.name} turns white: pour off after ${units.duration(c.stop_time_s)}.`);
    }
    for (const b of s.baths || [])
      if (b.draw && b.draw !== 'free') tips.push(`${b.name} is ${b.draw} at the mould: more salt, or a warmer set point at the end of the freeze.`);
    const low = (s.events || []).filter((e) => /cut-?out|low pressure/.test(e.what)).length;
    if (low) tips.push(`The plant stopped on low pressure ${low} time${low > 1 ? 's' : ''}: more coil, or less compressor.`);
    const costs = answers.paths(s).filter(([, v]) => v > 0), total = Math.abs(answers.paths(s).filter(([, v]) => v < 0).reduce((t, [, v]) => t + v, 0));
    if (costs.length && total && costs[0][1] > 0.02 * total) tips.push(`Insulation pays first at: ${costs[0][0]} (${units.percent(costs[0][1] / total)} of what is taken out).`);
    const out = [tips.length ? make('ul', {}, ...tips.map((t) => make('li', {}, t))) : answers.say('Nothing in these figures asks for a change.')];
    if (s.warnings && s.warnings.length) out.push(make('p', { class: 'strong' }, 'Warnings of this run'), make('ul', { class: 'warn' }, ...s.warnings.map((w) => make('li', {}, w))));
    return out;
  },
};
