package cli
import ("testing";"fmt")
func TestZZ(t *testing.T){ for _,v:=range []string{"1e-12kg","1e+300kg","5e-324kg","12.345678kg"} { c,o,s:=runCalc("","moisture","--ssd",v,"--absorption","1%","--moisture","5%"); fmt.Println(v,c,len(o),s) } }
