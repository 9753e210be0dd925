package paper

import (
	"fmt"
	"html"
	"strings"

	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/report/summary"
	"hod/internal/view/handover"
)

// Proof is what a third party needs to see that a record on paper is the signed one.
type Proof struct {
	Digest  string // of the record's events
	RootKey string // of the site, in hexadecimal digits
	Reaches []Reach
}

// Reach is how far the record of a device goes.
type Reach struct {
	Device string
	Events uint64
	Head   string // of its chain
}

// Record puts a record that is handed over on paper.
func Record(v handover.Record, p report.Page, size Size, proof Proof) (Paper, error) {
	p.HTML, p.Root = true, ""
	d := Document{Size: size, Site: v.Site, Title: "record of the shell", Digest: proof.Digest, Made: v.LastAt}
	if v.LastAt.IsZero() {
		d.Made = v.AsOf
	}
	d.Parts = []Part{
		{Name: "Record of the shell", Markup: cover(v, p, proof), Sign: []string{"handed over by", "taken over by"}},
		{Name: "Coats", Markup: summary.HandoverCoats(v, p)},
	}
	for _, z := range v.Zones {
		d.Parts = append(d.Parts, Part{Name: "Zone " + z.Zone.Zone, Markup: leaf.ZoneLeaf(z, p)})
	}
	d.Parts = append(d.Parts, // lists of many columns
		Part{Name: "Batches, tests, weather", Markup: summary.HandoverWork(v, p), Size: 8.3},
		Part{Name: "Flags and corrections", Markup: summary.HandoverSettled(v, p)})
	return Make(d)
}

// cover says what the record is of, what it does not say, and how it is verified.
func cover(v handover.Record, p report.Page, proof Proof) string {
	var b strings.Builder
	put := func(form string, args ...any) {
		for i, a := range args {
			args[i] = html.EscapeString(report.Clean(fmt.Sprint(a)))
		}
		fmt.Fprintf(&b, form+"\n", args...)
	}
	at := v.AsOf
	if p.In != nil {
		at = at.In(p.In)
	}
	put("<h1>%s: record of the shell</h1>", v.Site)
	if v.Place != "" {
		put("<p>%s</p>", v.Place)
	}
	put("<p>As the record stood %s, UTC%s: %s events of %s devices.</p>", at.Format("Monday 2 January 2006 15:04"),
		at.Format("-07:00"), v.Events, len(proof.Reaches))
	b.WriteString(report.OwnCopy(p, at))
	put("<h2>What this is</h2>")
	put(
		"<p>What the crews wrote while they worked, and what follows from it: for each zone and coat what was placed, when, " +
			"of which batches and lots; tests; joints with their treatment; cure and maturity with their gaps; breaks; weather; flags " +
			"with their answers; corrections. What nobody wrote or read is not in it, and is not made up.</p>")
	put("<h2>Cautions</h2>")
	for _, c := range v.Cautions {
		put("<p><b>%s</b></p>", c)
	}
	put("<h2>How to verify it</h2>")
	put(
		"<p>Each event was signed by the device that wrote it and bound to all that this device had written before. With the " +
			"site's root key, from its people and not from this paper alone, anybody who has the program and an export of the record checks both:</p>")
	put("<p class=\"in\"><b>hod verify FILE.hodlog --root-key %s</b></p>", proof.RootKey)
	put(
		"<p>It says whether a byte was changed, and the digest of the record. This paper is of the record whose digest is</p>")
	put("<p class=\"in\"><b>%s</b></p>", proof.Digest)
	put("<p>Where both are alike, <b>hod record --pdf</b> makes this paper's figures anew from that record.</p>")
	put("<table><tr><th>device</th><th class=\"right\">events</th><th>head of its chain</th></tr>")
	for _, r := range proof.Reaches {
		put("<tr><td>%s</td><td class=\"right\">%s</td><td>%s</td></tr>", r.Device, r.Events, r.Head)
	}
	put("</table>")
	return b.String()
}
