// Puts the page together once all of it is there.
const start = {
  theme: null,

  choices(redo) {
    const { choice } = element;
    const set = (theme) => {
      start.theme = theme;
      start.applyTheme();
      redo();
    };
    document.getElementById('choices').replaceChildren(
      choice('Units', [['metric', 'Metric'], ['us', 'US']], 'metric', (value) => { units.us = value === 'us'; redo(); }),
      choice('Brightness', [['auto', 'As the device'], ['light', 'Light'], ['dark', 'Dark']], 'auto', (value) => set(value === 'auto' ? null : value)));
  },

  applyTheme() {
    const dark = start.theme ? start.theme === 'dark' : matchMedia('(prefers-color-scheme: dark)').matches;
    document.documentElement.dataset.theme = dark ? 'dark' : 'light';
  },

  caution(list) {
    const holder = document.getElementById('cautions'), { make } = element;
    if (list.length) holder.append(make('ul', {}, ...[...new Set(list)].map((c) => make('li', {}, answers.top(c.replace(/[.;]?$/, '.'))))));
    holder.append(make('p', { class: 'strong' }, 'This page is a forecast from the case as written, not a permission. Local codes, the makers\u2019 instructions and licensed practice come first.'));
  },

  foot(runs) {
    document.getElementById('foot').replaceChildren(...runs.map((run) => {
      const p = run.summary.provenance || {};
      return answers.quiet([runs.length > 1 && run.label, p.program, p.started && `begun ${p.started}`, p.wall_s !== undefined && `computed in ${units.duration(p.wall_s)}`].filter(Boolean).join(', ') + '.');
    }));
  },

  async go() {
    start.applyTheme();
    const data = JSON.parse(document.getElementById('data').textContent);
    look.open(data.colours);
    const runs = data.runs.map((r) => new Run(r));
    const words = () => {
      const outcome = document.getElementById('answers'), figures = document.getElementById('tables');
      if (outcome) outcome.replaceChildren(...answers.list(runs[0]));
      if (figures) {
        const open = [...figures.querySelectorAll('details')].map((d) => d.open);
        figures.replaceChildren(figures.querySelector('h2'), ...tables.all(runs[0]));
        figures.querySelectorAll('details').forEach((d, i) => { d.open = open[i] || false; });
      }
      if (data.differences) compare.build(data.differences, runs);
      start.foot(runs);
    };
    words();
    start.caution(runs.flatMap((run) => run.cautions));
    const viewerHolder = document.getElementById('viewer');
    if (!decode.possible()) {
      start.choices(words);
      viewerHolder.append(answers.say('This browser is too old to unpack the stored figures: the answers above and the pictures below are complete all the same.'));
      return;
    }
    await Promise.all(runs.map((run) => run.open()));
    let viewer = null;
    const curves = new Curves(runs, (time) => viewer.setTime(time));
    document.getElementById('charts').replaceChildren(curves.holder);
    viewer = new Viewer(runs, curves);
    viewer.time = viewer.times[Math.floor(viewer.times.length / 3)] || viewer.time;
    const all = () => { words(); curves.build(viewer.time); viewer.build(viewerHolder); };
    start.choices(all);
    all();
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { start.applyTheme(); all(); });
    window.addEventListener('resize', () => { if (Math.abs((viewer.fitted || 0) - Math.min(document.documentElement.clientWidth - 32, viewerHolder.clientWidth)) > 1) { viewer.fit(); viewer.draw(); } });
    window.addEventListener('beforeprint', () => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
    document.documentElement.dataset.ready = 'yes';
  },
};
addEventListener('DOMContentLoaded', () => { start.go(); });
