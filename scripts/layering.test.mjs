// The layering check has to go red: one wrong import for every kind of arrow, in a folder of the checkout's shape.
import { mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { layering } from './layering.mjs';

const core = 'packages/core/src';
const type = (target) => `import type { A } from '${target}';\nexport type B = A;\n`;
const value = (target) => `import { a } from '${target}';\nexport const b = a;\n`;

/** [rule that has to fire, file, its text] */
const wrong = [
  ['units-stand-alone', `${core}/units/one.ts`, value('../math/leaf.js')],
  ['math-imports-only-downwards', `${core}/math/one.ts`, value('../units/leaf.js')],
  ['channels-imports-only-downwards', `${core}/channels/one.ts`, type('../recording/leaf.js')],
  ['recording-imports-only-downwards', `${core}/recording/one.ts`, value('../ingest/leaf.js')],
  ['ingest-imports-only-downwards', `${core}/ingest/one.ts`, value('../derived/leaf.js')],
  ['vehicle-imports-only-downwards', `${core}/vehicle/one.ts`, value('../recording/leaf.js')],
  ['derived-imports-only-downwards', `${core}/derived/one.ts`, value('../rules/rule.js')],
  ['rules-imports-only-downwards', `${core}/rules/fuel/one.ts`, type('../../engine/leaf.js')],
  ['rules-imports-only-downwards', `${core}/rules/fuel/two.ts`, value('../../ingest/leaf.js')],
  ['rules-imports-only-downwards', `${core}/rules/fuel/three.ts`, type('../../report/leaf.js')],
  ['rule-imports-rule', `${core}/rules/fuel/four.ts`, value('./trim.js')],
  ['rule-imports-rule', `${core}/rules/engine/five.ts`, type('../fuel/trim.js')],
  // A rule of its own beside `trim`, although its name continues it.
  [
    'rule-imports-rule',
    `${core}/rules/fuel/trim-drift.ts`,
    "import { defineRule } from '../rule.js';\nimport { a } from './trim.js';\nexport const b = defineRule(a);\n",
  ],
  ['rule-imports-registry', `${core}/rules/engine/six.ts`, value('../index.js')],
  ['engine-imports-only-downwards', `${core}/engine/one.ts`, value('../report/leaf.js')],
  ['verdict-imports-only-types', `${core}/verdict/one.ts`, value('../engine/leaf.js')],
  ['verdict-imports-only-downwards', `${core}/verdict/two.ts`, type('../ingest/leaf.js')],
  ['report-imports-only-types', `${core}/report/one.ts`, value('../rules/rule.js')],
  ['report-imports-only-downwards', `${core}/report/two.ts`, value('../ingest/leaf.js')],
  ['unknown-layer', `${core}/misc/one.ts`, value('../units/leaf.js')],
  ['door-from-inside', `${core}/report/three.ts`, value('../index.js')],
  ['core-is-pure', `${core}/math/two.ts`, "import { readFileSync } from 'node:fs';\nexport const b = readFileSync;\n"],
  ['not-found', `${core}/math/three.ts`, value('./nowhere.js')],
  ['circular', `${core}/math/five.ts`, value('./four.js')],
  ['core-knows-no-cli', `${core}/report/four.ts`, value('../../../cli/src/leaf.js')],
  ['source-imports-test', `${core}/math/six.ts`, value('../../test/leaf.js')],
  ['cli-through-the-door', 'packages/cli/src/one.ts', value('../../core/src/math/leaf.js')],
  ['simulator-stands-alone', 'scripts/simulate/one.ts', value('../../packages/core/src/math/leaf.js')],
];

const layers = 'units math channels recording ingest vehicle derived engine verdict report'.split(' ');
const leaf = 'export const a = 1;\nexport type A = number;\n';

/** [file, its text]: imports that the arrows allow. */
const right = [
  ...layers.map((layer) => [`${core}/${layer}/leaf.ts`, leaf]),
  [`${core}/rules/rule.ts`, `${leaf}export const defineRule = (x: number) => x;\n`],
  [`${core}/rules/fuel/trim.ts`, value('../../derived/leaf.js').replace('const b', 'const a')],
  [`${core}/rules/fuel/whole.ts`, value('./whole-part.js')],
  [`${core}/rules/fuel/whole-part.ts`, value('./whole-other.js').replace('const b', 'const a')],
  [`${core}/rules/fuel/whole-other.ts`, leaf],
  [`${core}/rules/fuel/good.ts`, type('../rule.js')],
  [`${core}/rules/index.ts`, value('./fuel/trim.js')],
  [`${core}/engine/good.ts`, value('../ingest/leaf.js')],
  [`${core}/verdict/good.ts`, type('../engine/leaf.js')],
  [`${core}/report/good.ts`, type('../rules/rule.js')],
  [`${core}/index.ts`, "export { a } from './report/leaf.js';\n"],
  ['packages/core/test/leaf.ts', leaf],
  ['packages/cli/src/leaf.ts', leaf],
  ['packages/cli/src/good.ts', value('../../core/src/index.js')],
  [`${core}/math/four.ts`, value('./five.js')], // the cycle is told once, at math/five
  ['scripts/simulate/good.ts', "import { b } from './one.js';\nexport const c = b;\n"],
];

describe('layering', () => {
  let base;
  let found;
  beforeAll(async () => {
    base = mkdtempSync(join(realpathSync(tmpdir()), 'telltale-layers-'));
    for (const [path, text] of [...right, ...wrong.map(([, path, text]) => [path, text])]) {
      mkdirSync(dirname(join(base, path)), { recursive: true });
      writeFileSync(join(base, path), text);
    }
    found = await layering(base);
  });
  afterAll(() => rmSync(base, { recursive: true, force: true }));

  it.each(wrong)('%s fires on %s', (rule, path) => {
    expect(found.violations.filter((one) => one.from === path).map((one) => one.rule)).toContain(rule);
  });

  it.each(right)('%s is allowed', (path) => {
    expect(found.violations.filter((one) => one.from === path)).toEqual([]);
  });

  it('fails when it saw no module', async () => {
    const empty = mkdtempSync(join(tmpdir(), 'telltale-layers-'));
    mkdirSync(join(empty, core), { recursive: true });
    try {
      expect((await layering(empty)).ok).toBe(false);
    } finally {
      rmSync(empty, { recursive: true, force: true });
    }
  });
});
