import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { run } from '../src/program.js';
import { drawsBlocks } from '../src/terminal/output.js';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const demo = join(root, 'test-data', 'demo.csv');
const DRAWING = /[▁▂▃▄▅▆▇█]{8}/;

async function out(terminal: { blocks?: boolean; width?: number }, ...flags: string[]): Promise<string> {
  let text = '';
  await run(
    ['assess', demo, '--only', 'transmission.over-temperature', '--quiet', ...flags],
    {
      out: (more) => {
        text += more;
      },
      err: () => undefined,
      width: 80,
      color: false,
      live: false,
      ...terminal,
    },
    '0',
  );
  return text;
}

describe('small plots in the text', () => {
  it.each([80, 120])('are drawn in a terminal of %i columns, with the peak in the event', async (width) => {
    const text = await out({ blocks: true, width });
    const lines = text.split('\n');
    for (const line of lines) expect([...line].length).toBeLessThanOrEqual(width);
    const drawing = lines.find((line) => DRAWING.test(line))!;
    expect(drawing.slice(drawing.indexOf('['), drawing.indexOf(']'))).toContain('█');
    expect(text.replace(/\s+/g, ' ')).toMatch(/transmission oil temperature [\d.]+ °C to 131\.\d °C/);
  });

  it('are not drawn in a pipe, unless asked; never in JSON; never when forbidden', async () => {
    expect(await out({})).not.toMatch(DRAWING);
    expect(await out({}, '--plots')).toMatch(DRAWING);
    expect(await out({}, '--plots', '--markdown')).toMatch(DRAWING);
    expect(await out({ blocks: true }, '--markdown')).not.toMatch(DRAWING);
    expect(await out({ blocks: true }, '--no-plots')).not.toMatch(DRAWING);
    expect(await out({ blocks: true }, '--json')).toBe(await out({}, '--json', '--plots'));
  });

  it.each([
    [{ LANG: 'de_DE.UTF-8' }, 'linux', true],
    [{ LANG: 'en_GB.utf8', NO_COLOR: '1' }, 'linux', true],
    [{ LANG: 'en_GB.UTF-8', LC_ALL: 'C' }, 'linux', false],
    [{ LC_CTYPE: 'C.UTF-8', LANG: 'C' }, 'linux', true],
    [{}, 'linux', false],
    [{}, 'darwin', true],
    [{ LANG: 'C.UTF-8', TERM: 'dumb' }, 'linux', false],
    [{ LANG: 'C.UTF-8', TERM: 'linux' }, 'linux', false],
    [{ WT_SESSION: 'x' }, 'win32', true],
    [{ LANG: 'C.UTF-8' }, 'win32', false],
  ] as const)('%o on %s: %s', (environment, platform, drawn) => {
    expect(drawsBlocks(environment, platform)).toBe(drawn);
  });
});
