import { describe, expect, it } from 'vitest';
import type { Action, Assessment } from '../../src/engine/assessment.js';
import { shortlistDocument } from '../../src/report/shortlist-document.js';
import { renderText } from '../../src/report/text.js';
import { shortlistOf } from '../../src/shortlist/shortlist.js';

const candidate = (name: string, low: number, high: number, action: Action = 'negotiate', coverage = 0.7) => ({
  name,
  assessment: {
    schema: 'telltale/assessment@1',
    vehicle: { id: name },
    inputs: [],
    verdict: { level: action === 'walk-away' ? 'stop' : 'watch', coverage, index: { low, high }, reasons: ['r'] },
    systems: [],
    results: [
      {
        rule: 'engine.knock',
        summary: 'Knock.',
        outcome: 'finding',
        severity: 'watch',
        confidence: 0.9,
        measures: {},
        events: [],
        limits: [],
      },
      { rule: 'engine.idle', summary: '', outcome: 'error', error: '' },
      {
        rule: 'engine.oil-pressure',
        summary: '',
        outcome: 'unproven',
        missing: { channels: [], conditions: [] },
        proves: '',
      },
    ],
    decision: { action, reasons: [], questions: [] },
    cautions: ['Take care.'],
  } satisfies Assessment,
});

describe('what was seen by eye', () => {
  const seen = (points: NonNullable<Assessment['seen']>) => {
    const one = candidate('a', 40, 60);
    const { results, ...rest } = one.assessment;
    return shortlistOf([
      {
        ...one,
        assessment: { ...rest, results: results.filter(({ outcome }) => outcome !== 'finding'), seen: points },
      },
    ]);
  };
  const text = (list: ReturnType<typeof shortlistOf>) =>
    renderText(shortlistDocument(list), { width: 100, paint: (words) => words });

  it('is told where the recording shows nothing, worst first', () => {
    const list = seen([
      { point: 'brakes.discs', state: 'watch', note: '' },
      { point: 'leaks.oil', state: 'repair', note: 'drips after the drive' },
      { point: 'body.gaps', state: 'sound', note: '' },
      { point: 'body.glass', state: 'not-seen', note: '' },
    ]);
    expect(list.candidates[0]!.seen).toEqual([
      { point: 'leaks.oil', severity: 'repair', note: 'drips after the drive' },
      { point: 'brakes.discs', severity: 'watch', note: '' },
    ]);
    expect(text(list)).toMatch(/Found +nothing in what was recorded and read out/);
    expect(text(list)).toMatch(/Seen by eye +repair +leaks\.oil: drips after the drive\n +watch +brakes\.discs/);
    expect(text(list)).not.toContain('Nothing was found');
    expect(text(list)).toMatch(/1 +a +NEGOTIATE +watch +70 % +40–60 +2 /);
  });

  it('adds nothing where all was sound, or no sheet was given', () => {
    expect(text(seen([{ point: 'body.gaps', state: 'sound', note: '' }]))).not.toContain('Seen by eye');
    expect(shortlistOf([candidate('a', 40, 60)]).candidates[0]).not.toHaveProperty('seen');
  });
});

describe('the shortlist', () => {
  it('puts the better index first, and says that intervals apart settle the order', () => {
    const list = shortlistOf([candidate('b', 40, 60), candidate('a', 60, 80)]);
    expect(list.candidates.map(({ name, rank }) => [rank, name])).toEqual([
      [1, 'a'],
      [2, 'b'],
    ]);
    expect(list.candidates[0]!.next).toEqual({ settled: true, because: 'index 60 to 80 lies above 40 to 60 of b' });
    expect(list.candidates[1]!.next).toBeUndefined();
    expect(list.order).toBe('settled');
  });

  it('says when overlapping intervals do not settle it', () => {
    const list = shortlistOf([candidate('a', 59.9, 80), candidate('b', 40, 60)]);
    expect(list.candidates[0]!.next!.settled).toBe(false);
    expect(list.order).toBe('open');
    const three = shortlistOf([candidate('a', 59.9, 80), candidate('b', 40, 60), candidate('c', 10, 20)]);
    expect(three.order).toBe('partly');
  });

  it('puts what is to be walked away from last, whatever its index', () => {
    const list = shortlistOf([candidate('a', 90, 95, 'walk-away'), candidate('b', 10, 90)]);
    expect(list.candidates.map(({ name }) => name)).toEqual(['b', 'a']);
    expect(list.candidates[0]!.next).toMatchObject({
      settled: true,
      because: expect.stringMatching(/walk away/) as string,
    });
  });

  it('orders equals by what was shown, then by name, so that the order of the arguments does not matter', () => {
    const some = [candidate('b', 50, 60), candidate('a', 50, 60), candidate('c', 50, 60, 'negotiate', 0.9)];
    const names = (list: typeof some) => shortlistOf(list).candidates.map(({ name }) => name);
    expect(names(some)).toEqual(['c', 'a', 'b']);
    expect(names([...some].reverse())).toEqual(['c', 'a', 'b']);
  });

  it('counts what is open and names what a sound car needs', () => {
    const [only] = shortlistOf([candidate('a', 50, 60)]).candidates;
    expect(only!.unproven).toEqual({ count: 2, essential: ['engine.oil-pressure'] });
    expect(only!.findings).toEqual([{ rule: 'engine.knock', severity: 'watch', summary: 'Knock.' }]);
  });

  it('reads well with one, three and no candidate', () => {
    const text = (n: number) =>
      renderText(shortlistDocument(shortlistOf([1, 2, 3].slice(0, n).map((i) => candidate(`car ${i}`, 30, 60)))), {
        width: 80,
        paint: (words: string) => words,
      });
    expect(text(3)).toMatch(/does not settle this order/);
    expect(text(3).match(/^ +[123] {2}car [123]/gm)!.length).toBeGreaterThanOrEqual(3);
    expect(text(1)).not.toMatch(/settle/);
    expect(() => text(0)).not.toThrow();
    for (const line of text(3).split('\n')) expect(line.length).toBeLessThanOrEqual(80);
  });
});
