// Package example carries the example plans into the demonstration and into tests.
package example

import _ "embed"

// Vault is vault.yaml: twelve zones of an invented vault, in metric units.
//
//go:embed vault.yaml
var Vault []byte

// VaultUS is vault_us.yaml: six zones, in US customary units.
//
//go:embed vault_us.yaml
var VaultUS []byte
