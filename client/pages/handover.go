package pages

import (
	"context"
	"encoding/hex"

	"hod/client/session"
	"hod/internal/chain"
	"hod/internal/report/paper"
	"hod/internal/view/handover"
)

// onPaper writes the record that is handed over.
func onPaper(ctx context.Context, s *session.Session, sheets PaperFlags) error {
	heads, err := s.Journal.Heads(ctx)
	if err != nil {
		return err
	}
	proof := paper.Proof{
		Digest:  chain.Digest(s.Device.Site, heads).String(),
		RootKey: hex.EncodeToString(s.Device.RootKey),
	}
	for _, h := range heads {
		if h.Seq > 0 {
			proof.Reaches = append(proof.Reaches, paper.Reach{
				Device: string(h.Device), Events: h.Seq,
				Head: h.Chain.String(),
			})
		}
	}
	v := handover.Of(s.Fold, s.Now, s.Location)
	if err := s.Fold.Lost(); err != nil {
		return err
	}
	made, err := paper.Record(v, s.Page(), sheets.Size(v.Units), proof)
	if err != nil {
		return err
	}
	return sheets.Save(s.Env, made)
}
