import { describe, expect, it } from 'vitest';
import { judgeLengths, linesWithMachinePath } from './texts.mjs';

describe('paths of a machine', () => {
  // Put together here, so that no whole path stands in the project.
  const join = (...parts) => parts.join('/');
  it.each([
    ['home folder', `const a = '${join('', 'home', 'somebody', 'x.csv')}';`],
    ['in a comment', `// see ${join('', 'Users', 'somebody', 'notes')}`],
    ['at the start', join('', 'root', '.config')],
    ['a drive letter', ['C:', 'Users', 'somebody'].join('\\')],
  ])('finds a %s', (_, text) => {
    expect(linesWithMachinePath(`fine\n${text}\nfine`)).toEqual([2]);
  });

  it.each([
    '../shared/data/trip.csv',
    '@scope/home/page',
    'https://example.org/home/page',
    'm/s at work/rest',
    'km/home',
  ])('lets %s pass', (text) => {
    expect(linesWithMachinePath(text)).toEqual([]);
  });
});

describe('file lengths', () => {
  it.each([
    [200, true, false],
    [201, true, true],
    [400, true, true],
    [401, false, false],
  ])('%i lines', (lines, ok, warned) => {
    const judged = judgeLengths([{ name: 'long.ts', lines }]);
    expect(judged.ok).toBe(ok);
    expect(judged.note.includes('long.ts')).toBe(warned);
  });

  it('fails when it looked at nothing', () => {
    expect(judgeLengths([]).ok).toBe(false);
  });
});
