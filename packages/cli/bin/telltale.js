#!/usr/bin/env node
// Loads the built bundle. Committed, because npm links a workspace binary only when its file exists at install.
import { existsSync } from 'node:fs';

const bundle = new URL('../dist/main.js', import.meta.url);
if (existsSync(bundle)) {
  await import(bundle.href);
} else {
  process.stderr.write(
    'telltale: E_NOT_BUILT: dist/main.js is absent, so the tool is not built yet: run "npm run build" first\n',
  );
  process.exitCode = 4;
}
