import { appendFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openJournal } from './journal.js';
import type { Report } from './trial.js';

const folder = mkdtempSync(join(tmpdir(), 'telltale-journal-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const report = (car: string): Report => ({
  trial: { wish: { seed: 1, faults: [] }, purpose: 'healthy', dialled: [] },
  kind: 'x',
  car,
  answers: [],
});

describe('the journal of a detection run', () => {
  it('gives back what was kept, NaN included, and leaves out a line that was cut off', () => {
    const path = join(folder, 'a');
    const first = openJournal(path, 'key');
    first.add(3, { ...report('one'), answers: [{ measures: { value: Number.NaN } } as never] });
    first.add(0, report('two'));
    appendFileSync(path, '7 AAAA');
    const again = openJournal(path, 'key');
    expect([...again.known.keys()]).toEqual([3, 0]);
    expect(again.known.get(3)?.answers[0]?.measures.value).toBeNaN();
    again.add(7, report('three'));
    expect(openJournal(path, 'key').known.get(7)?.car).toBe('three');
  });

  it('refuses the journal of another run', () => {
    const path = join(folder, 'b');
    openJournal(path, 'key');
    expect(() => openJournal(path, 'other')).toThrow(/another run/);
  });
});
