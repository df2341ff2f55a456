// What differs between runs, in inputs and answers. differences: {inputs: [{key, values: [text or null]}], answers: [{key, values: [...]}]}.
const compare = {
  build(differences, runs) {
    const fill = (id, rows, show, words, none) => {
      const holder = document.getElementById(id), title = holder.querySelector('h2');
      holder.replaceChildren(title, rows.length ? element.table([id === 'inputs' ? 'Key' : 'Figure', ...runs.map((r) => r.label)], rows.map((row) => [show.name(row.key), ...row.values.map((v) => (v === null || v === undefined ? 'not given' : show.value(row.key, v)))]), words) : answers.quiet(none));
    };
    fill('inputs', differences.inputs, { name: (k) => k, value: (k, v) => String(v) }, 'As the case files have it.', 'Nothing: the cases are the same.');
    fill('outcomes', differences.answers, { name: (k) => tables.name(k), value: (k, v) => tables.text(k, v) }, 'As forecast; equal figures are left out.', 'Nothing: the answers are the same.');
  },
};
