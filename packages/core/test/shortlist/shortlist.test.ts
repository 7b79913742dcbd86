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
