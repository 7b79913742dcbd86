import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { RULES } from '@telltale/core';
import { afterAll, describe, expect, it } from 'vitest';
import { run } from '../src/program.js';

const folder = mkdtempSync(join(tmpdir(), 'telltale-completion-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function script(shell: string): Promise<string> {
  let text = '';
  const out = (more: string) => {
    text += more;
  };
  expect(
    await run(['completion', shell], { out, err: () => undefined, width: 80, color: false, live: false }, '0'),
  ).toBe(0);
  return text;
}

const has = (shell: string): boolean => spawnSync(shell, ['--version'], { stdio: 'ignore' }).status === 0;
const COMMANDS = ['assess', 'columns', 'export', 'plan', 'shortlist', 'verify', 'track', 'page', 'rules', 'completion'];

describe.skipIf(!has('bash'))('bash (skipped without one)', () => {
  const suggested = async (...words: string[]): Promise<string[]> => {
    const file = join(folder, 'telltale.bash');
    writeFileSync(file, await script('bash'));
    const given = words.map((word) => `'${word}'`).join(' ');
    const code = `source '${file}'; COMP_WORDS=(telltale ${given}); COMP_CWORD=${words.length}; _telltale; printf '%s\\n' "\${COMPREPLY[@]}"`;
    return execFileSync('bash', ['-c', code], { encoding: 'utf8' })
      .split('\n')
      .filter((line) => line !== '');
  };

  it('completes commands, options, the words of an option, and rules', async () => {
    expect(await suggested('')).toEqual([...COMMANDS, 'help']);
    expect(await suggested('as')).toEqual(['assess']);
    expect(await suggested('assess', '--fail')).toEqual(['--fail-at']);
    expect(await suggested('assess', 'a.csv', '--fail-at', '')).toEqual(['watch', 'repair', 'stop']);
    expect(await suggested('rules', 'engine.kn')).toEqual(['engine.knock']);
    expect(await suggested('track', 'ba')).toEqual(['backup']);
    expect(await suggested('track', 'add', '--tog')).toEqual(['--together']);
    expect(await suggested('completion', '')).toEqual(['bash', 'zsh', 'fish', 'powershell']);
  });

  it('leaves file names to the shell', async () => {
    expect(await suggested('assess', '')).toEqual([]);
    expect(await suggested('assess', '--vehicle', 'x')).toEqual([]);
    expect(await script('bash')).toMatch(/complete -o bashdefault -o default/);
  });
});

describe.each(['zsh', 'fish', 'powershell'])('%s', (shell) => {
  it('holds every command, option and rule', async () => {
    const text = await script(shell);
    for (const word of [...COMMANDS, 'fail-at', 'prices', 'repair', ...RULES.map(({ id }) => id)])
      expect(text).toContain(word);
  });

  it.skipIf(shell === 'powershell' || !has(shell))(
    'is a script that the shell accepts (skipped without one)',
    async () => {
      const file = join(folder, `telltale.${shell}`);
      writeFileSync(file, await script(shell));
      expect(spawnSync(shell, ['-n', file]).status).toBe(0);
    },
  );
});
