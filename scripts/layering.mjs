// Holds the arrows of .dependency-cruiser.mjs against the imports that the sources really have.
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { root } from './house.mjs';

const ruleFile = /^packages\/core\/src\/rules\/([^/]+)\/([^/]+)[.]ts$/;

/**
 * A rule may be split: `<topic>.ts` and `<topic>-<part>.ts`. Gives the topic that a file belongs to: the longest rule
 * whose name it continues. Rules are told by their `defineRule(`, so `trim-drift` may be a rule beside `trim`.
 */
function topics(base, sources) {
  const names = sources.filter((source) => ruleFile.test(source)).map((source) => source.slice(0, -'.ts'.length));
  const heads = names.filter(
    (name) =>
      readFileSync(join(base, `${name}.ts`), 'utf8').includes('defineRule(') ||
      !names.some((other) => name.startsWith(`${other}-`)),
  );
  const topicOf = (name) =>
    heads.filter((head) => name === head || name.startsWith(`${head}-`)).sort((a, b) => b.length - a.length)[0];
  return new Map(names.map((name) => [`${name}.ts`, topicOf(name)]));
}

/** A rule never imports another rule, only parts of itself: what two rules share is derived knowledge. */
function rulesImportingRules(base, modules) {
  const topicOf = topics(
    base,
    modules.map((module) => module.source),
  );
  return modules.flatMap((module) =>
    module.dependencies
      .filter((to) => topicOf.has(module.source) && topicOf.has(to.resolved))
      .filter((to) => topicOf.get(module.source) !== topicOf.get(to.resolved))
      .map((to) => ({ rule: 'rule-imports-rule', from: module.source, to: to.resolved })),
  );
}

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
  const violations = [
    ...output.summary.violations.map((one) => ({ rule: one.rule.name, from: one.from, to: one.to })),
    ...rulesImportingRules(base, output.modules),
  ];
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
  comments.set('rule-imports-rule', 'a rule imports only parts of itself; what two rules share is derived knowledge');
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
