// Small makers of elements; text only ever goes in as text.
const element = {
  make(name, attributes = {}, ...children) {
    const e = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) {
      if (key.startsWith('on')) e.addEventListener(key.slice(2), value);
      else if (value === true) e.setAttribute(key, '');
      else if (value !== false && value !== undefined) e.setAttribute(key, value);
    }
    e.append(...children.filter((c) => c !== undefined && c !== null && c !== false));
    return e;
  },

  drawn(name, attributes = {}, ...children) {
    const e = document.createElementNS('http://www.w3.org/2000/svg', name);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    e.append(...children);
    return e;
  },

  table(heads, rows, caption) {
    const { make } = element;
    return make('div', { class: 'wide', tabindex: '0', role: 'region', 'aria-label': `Table: ${caption}` },
      make('table', {}, make('caption', {}, caption),
        make('thead', {}, make('tr', {}, ...heads.map((h) => make('th', { scope: 'col' }, h)))),
        make('tbody', {}, ...rows.map((row) => make('tr', {}, ...row.map((c, i) =>
          make(i === 0 ? 'th' : 'td', i === 0 ? { scope: 'row' } : {}, c instanceof Node ? c : String(c))))))));
  },

  // A group of buttons of which one is pressed.
  choice(label, options, chosen, choose) {
    const { make } = element;
    const group = make('div', { class: 'choice', role: 'group', 'aria-label': label });
    const press = (value) => {
      for (const b of group.children) b.setAttribute('aria-pressed', String(b.dataset.value === value));
    };
    for (const [value, text] of options)
      group.append(make('button', { type: 'button', 'data-value': value, onclick: () => { press(value); choose(value); } }, text));
    press(chosen);
    return group;
  },
};
