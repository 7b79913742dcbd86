// Holds the arrows of .dependency-cruiser.mjs against the imports that the sources really have.
import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { root } from './house.mjs';

/**
 * `base` is the checkout, or a folder of the same shape (tests use one with wrong imports in it).
 * Resolves to `{ ok, note, detail, violations }`.
 */
export async function layering(base) {
  const { cruise } = await import('dependency-cruiser');
  const { default: config } = await import(pathToFileURL(join(root, '.dependency-cruiser.mjs')).href);
  const { forbidden, options } = config;
  const folders = ['packages/core/src', 'packages/cli/src', 'scripts/simulate'].filter((name) =>
    existsSync(join(base, name)),
  );
  const { output } = await cruise(folders, {
    ...options,
    baseDir: base,
    validate: true,
    ruleSet: { forbidden, options },
  });
  const violations = output.summary.violations.map((one) => ({ rule: one.rule.name, from: one.from, to: one.to }));
  const seen = output.modules
    .filter((module) => /^packages\/[^/]+\/src\/.*\.ts$/.test(module.source))
    .map((module) => module.source);
  // A layering check that looks at nothing passes everything. Every source file has to be among what was seen.
  const expected = folders
    .filter((name) => name.startsWith('packages/'))
    .flatMap((name) =>
      readdirSync(join(base, name), { recursive: true }).map((file) => `${name}/${String(file).replaceAll('\\', '/')}`),
    )
    .filter((name) => name.endsWith('.ts') && !name.endsWith('.d.ts'));
  const unseen = expected.filter((name) => !seen.includes(name));
  const edges = output.modules.reduce(
    (sum, module) => sum + (module.source.startsWith('packages/') ? module.dependencies.length : 0),
    0,
  );
  const comments = new Map(forbidden.map((rule) => [rule.name, rule.comment]));
  const lines = violations.map(
    (one) => `${one.rule}: ${one.from} -> ${one.to}${comments.get(one.rule) ? ` (${comments.get(one.rule)})` : ''}`,
  );
  if (expected.length === 0) lines.push(`no source file below ${folders.join(', ')}`);
  if (edges === 0)
    lines.push('no import was seen at all: is TypeScript within the range that dependency-cruiser supports?');
  lines.push(...unseen.map((name) => `${name} was not looked at`));
  return {
    ok: lines.length === 0,
    note: `${seen.length} modules, ${edges} imports`,
    detail: lines.join('\n'),
    violations,
  };
}
