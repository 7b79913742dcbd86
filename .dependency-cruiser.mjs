// Arrows of the architecture. One row a layer: what it may import besides itself. What is not named is forbidden.
// `?` after a name: types only.
const arrows = {
  units: [],
  math: [],
  // Formulas of air, torque, fuel and road load, each with its source.
  physics: [],
  // Structure and meaning of diagnostic trouble codes.
  codes: [],
  channels: ['units', 'math'],
  // Reading of YAML and CSV side files with their line numbers: what vehicle, map, prices … have in common.
  sidefiles: ['units'],
  recording: ['units', 'math', 'codes', 'channels', 'sidefiles'],
  ingest: ['units', 'math', 'codes', 'channels', 'sidefiles', 'recording'],
  vehicle: ['units', 'channels', 'sidefiles'],
  derived: ['units', 'math', 'physics', 'codes', 'channels', 'recording', 'vehicle'],
  rules: ['units', 'math', 'physics', 'codes', 'channels', 'recording', 'vehicle', 'derived'],
  engine: [
    'units',
    'math',
    'channels',
    'sidefiles',
    'recording',
    'ingest',
    'vehicle',
    'derived',
    'rules',
    'verdict',
    'sheet',
    'decision',
  ],
  // What a person saw, and what a buyer does next: results, sheet and prices only.
  sheet: ['sidefiles'],
  // Any document: knows texts, not what they say.
  redaction: [],
  shortlist: ['verdict', 'rules?', 'engine?', 'sheet?'],
  decision: ['sidefiles', 'sheet', 'verdict', 'rules?', 'engine?'],
  // Results only: their types stand with the rule and the engine, so types only.
  verdict: ['units', 'math', 'recording?', 'vehicle?', 'rules?', 'engine?'],
  // Map sign-off: pulls, limits, before and after.
  verify: ['units', 'math', 'physics', 'channels', 'sidefiles', 'recording', 'vehicle', 'derived', 'rules', 'engine'],
  // The owner's logbook: what is kept of a drive, drift over months, what is due.
  logbook: [
    'units',
    'math',
    'channels',
    'ingest',
    'derived',
    'vehicle',
    'recording?',
    'rules',
    'engine',
    'verdict?',
    'plan',
  ],
  plan: ['units', 'channels', 'vehicle', 'rules', 'engine'],
  // Opened drives and their assessment -> data to draw; knows no page.
  plots: ['math', 'channels', 'recording?', 'derived', 'rules?', 'engine'],
  report: [
    'units',
    'math',
    'channels',
    'recording?',
    'vehicle?',
    'derived?',
    'rules?',
    'engine?',
    'verdict?',
    'verify?',
    'logbook',
    'plan?',
    'sheet?',
    'decision?',
    'shortlist?',
    'plots?',
  ],
  // Pages and schemas that are generated from the objects of every layer.
  docs: [
    'units',
    'codes',
    'channels',
    'sidefiles',
    'recording',
    'ingest',
    'vehicle',
    'rules',
    'engine',
    'verdict',
    'sheet',
    'decision',
    'verify',
    'logbook',
    'report',
  ],
};

const source = '^packages/core/src/';

function layerRules([layer, allowed]) {
  const free = [layer, ...allowed.filter((name) => !name.endsWith('?'))];
  const typed = allowed.filter((name) => name.endsWith('?')).map((name) => name.slice(0, -1));
  const rules = [
    {
      name: `${layer}-imports-only-downwards`,
      comment: `${layer}/ may import ${allowed.length === 0 ? 'nothing of ours' : allowed.join(', ')}`,
      severity: 'error',
      from: { path: `${source}${layer}/` },
      to: { path: source, pathNot: `${source}(${[...free, ...typed].join('|')})/` },
    },
  ];
  if (typed.length > 0) {
    rules.push({
      name: `${layer}-imports-only-types`,
      comment: `${layer}/ may import types, and nothing that runs, from ${typed.join(', ')}`,
      severity: 'error',
      from: { path: `${source}${layer}/` },
      to: { path: `${source}(${typed.join('|')})/`, dependencyTypesNot: ['type-only'] },
    });
  }
  return rules;
}

export const layers = Object.keys(arrows);

export default {
  forbidden: [
    ...Object.entries(arrows).flatMap(layerRules),
    {
      name: 'unknown-layer',
      comment: 'a new folder of core needs its row of arrows in .dependency-cruiser.mjs',
      severity: 'error',
      from: { path: `${source}[^/]+/`, pathNot: `${source}(${layers.join('|')})/` },
      to: {},
    },
    // A rule never imports another rule: scripts/layering.mjs holds that, because it has to know which files are rules.
    {
      name: 'rule-imports-registry',
      comment: 'the registry knows the rules, not the other way round',
      severity: 'error',
      from: { path: `${source}rules/[^/]+/` },
      to: { path: `${source}rules/(index|registry|all|catalogue)[.]ts$` },
    },
    {
      name: 'door-from-inside',
      comment: 'index.ts is the public door of core: nothing inside goes through it',
      severity: 'error',
      from: { path: `${source}.+/` },
      to: { path: `${source}index[.]ts$` },
    },
    {
      name: 'units-stand-alone',
      comment: 'units/ imports nothing at all',
      severity: 'error',
      from: { path: `${source}units/` },
      to: { pathNot: `${source}units/` },
    },
    {
      name: 'core-is-pure',
      comment: 'core runs in a browser too: no module of Node',
      severity: 'error',
      from: { path: source },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'core-declares-its-packages',
      comment: 'what core imports stands in its dependencies',
      severity: 'error',
      from: { path: source },
      to: { dependencyTypes: ['npm-dev', 'npm-no-pkg', 'npm-unknown'] },
    },
    {
      name: 'cli-through-the-door',
      comment: "the command line imports core only as '@telltale/core'",
      severity: 'error',
      from: { path: '^packages/cli/src/' },
      to: { path: '^packages/core/', pathNot: '^packages/core/(src|dist)/index[.](ts|js|d[.]ts)$' },
    },
    {
      name: 'browser-knows-no-command-line',
      comment: 'what runs in a page is bundled by itself: nothing of Node, and nothing of the command line',
      severity: 'error',
      from: { path: '^packages/cli/src/browser/' },
      to: { path: '^packages/cli/src/', pathNot: '^packages/cli/src/browser/' },
    },
    {
      name: 'browser-is-pure',
      comment: 'no module of Node runs in a page',
      severity: 'error',
      from: { path: '^packages/cli/src/browser/' },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'command-line-knows-no-browser',
      comment: 'the command line hands out bundled scripts as text; it never imports one',
      severity: 'error',
      from: { path: '^packages/cli/src/', pathNot: '^packages/cli/src/browser/' },
      to: { path: '^packages/cli/src/browser/' },
    },
    {
      name: 'core-knows-no-cli',
      severity: 'error',
      from: { path: '^packages/core/' },
      to: { path: '^packages/cli/' },
    },
    {
      name: 'simulator-stands-alone',
      comment: 'the simulator may not share a mistake with what it is used to test',
      severity: 'error',
      from: { path: '^scripts/simulate/' },
      to: { path: '^packages/|^node_modules/@telltale/|^@telltale/' },
    },
    {
      name: 'source-imports-test',
      severity: 'error',
      from: { path: '^packages/[^/]+/src/' },
      to: { path: '^packages/[^/]+/test/|^test-data/|^scripts/' },
    },
    { name: 'circular', severity: 'error', from: {}, to: { circular: true } },
    {
      name: 'not-found',
      comment: 'the import leads nowhere',
      severity: 'error',
      from: {},
      to: { couldNotResolve: true },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '(^|/)(dist|build)/' },
    tsPreCompilationDeps: true,
    combinedDependencies: false,
    enhancedResolveOptions: { exportsFields: ['exports'], conditionNames: ['import', 'types', 'node', 'default'] },
  },
};
