import { describe, expect, it } from 'vitest';
import { measureWords, WORDS } from '../../src/report/measure-words.js';
import { RULES } from '../../src/rules/index.js';

describe('names of measures in a report', () => {
  it('say what was measured where the id alone does not', () => {
    expect(measureWords('engine.oil-pressure', 'atSpeed.limit')).toBe('limit there');
    expect(measureWords('fuel.lambda-sensor', 'response.bank2')).toBe('time to read air bank 2');
    expect(measureWords('fuel.trim', 'idle.bank1')).toBe('idle bank 1');
    expect(measureWords('engine.knock', 'maxRetard')).toBe('max retard');
  });

  it('belong to rules that exist, and no two of a rule read alike', () => {
    const ids = new Set(RULES.map(({ id }) => id));
    for (const [rule, words] of Object.entries(WORDS)) {
      expect(ids).toContain(rule);
      const all = Object.values(words);
      expect(new Set(all).size).toBe(all.length);
      for (const each of all) expect(each).not.toMatch(/[,A-Z]/);
    }
  });
});
