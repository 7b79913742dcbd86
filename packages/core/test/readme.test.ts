import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

const root = fileURLToPath(new URL('../../..', import.meta.url));

test('the example of the library’s README runs as it is printed', () => {
  const readme = readFileSync(join(root, 'packages/core/README.md'), 'utf8');
  const example = /```ts\n([\s\S]*?)```/.exec(readme)?.[1];
  expect(example?.trim().split('\n').length).toBeLessThanOrEqual(10);
  const folder = mkdtempSync(join(tmpdir(), 'telltale-readme-'));
  try {
    copyFileSync(join(root, 'test-data/demo.csv'), join(folder, 'drive.csv'));
    copyFileSync(join(root, 'test-data/demo.vehicle.yaml'), join(folder, 'car.yaml'));
    symlinkSync(join(root, 'node_modules'), join(folder, 'node_modules'), 'junction');
    writeFileSync(join(folder, 'example.mjs'), example ?? '');
    const out = execFileSync(process.execPath, ['example.mjs'], { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 26 });
    expect(out).toMatch(/^Buyer: /);
    expect(JSON.parse(out.slice(out.indexOf('\n{\n')))).toMatchObject({ schema: 'telltale/assessment@1' });
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
