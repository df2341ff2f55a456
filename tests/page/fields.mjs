// Figures of a fields.h5, read with a tool of the HDF5 library: what the page is held against.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export function readSet(file, name) {
  const folder = mkdtempSync(join(tmpdir(), 'lastwater_page_')), dump = join(folder, 'set.txt');
  try {
    execFileSync('h5dump', ['-y', '-m', '%.9g', '-d', name, '-o', dump, file], { stdio: 'ignore' });
    return readFileSync(dump, 'utf8').split(/[,\s]+/).filter((t) => t !== '').map((t) => (/nan/i.test(t) ? NaN : Number(t)));
  } finally {
    rmSync(folder, { recursive: true });
  }
}

export function readGrid(file, revolved) {
  const edges = [readSet(file, revolved ? '/grid/r' : '/grid/x'), revolved ? [0, 1] : readSet(file, '/grid/y'), readSet(file, '/grid/z')];
  return { edges, num: edges.map((e) => e.length - 1) };
}

// Index of the cell along an axis, and how far inside it a coordinate lies, m.
export function cellAlong(edges, x) {
  const i = edges.findIndex((e, k) => k + 1 < edges.length && x >= e && x < edges[k + 1]);
  return { i, inside: i < 0 ? -1 : Math.min(x - edges[i], edges[i + 1] - x) };
}
